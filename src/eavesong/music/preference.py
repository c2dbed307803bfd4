"""Which of two explanations that are nearly as good is taken: what people do, where the sound hardly tells."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from eavesong.music.bands import FRAME_RATE
from eavesong.music.beside import SAME

if TYPE_CHECKING:
    from eavesong.music.explain import Explanation, Judged

IN_FOUR = 0.8
"""By how much bars of four may score less than bars of two and still be taken."""
HASTE, LAG = 170.0, 0.3
"""Beats a minute from which half the tempo is taken where it scores less by no more than so much: people hardly tap
as fast (van Noorden & Moelants 1999)."""


def unhurried(order: list[Explanation]) -> list[Explanation]:
    """``order``, the best first, but half its tempo first where the best is hasty and half of it nearly as good."""
    best = tempo_of(order[0].judged)
    for one in order[1:] if best > HASTE else ():
        if one.score < order[0].score - LAG:
            break
        if abs(2 * tempo_of(one.judged) / best - 1) < SAME:
            return [one, *(other for other in order if other is not one)]
    return order


def tempo_of(judged: Judged) -> float:
    """Beats a minute of a candidate."""
    return 60 * FRAME_RATE / float(np.median(np.diff(judged.beats)))


def in_four(order: list[Explanation]) -> list[Explanation]:
    """``order``, the best first, with bars of four before bars of two on the same beats where they are as good, or
    nearly: such music is written so (common practice), and two bars of two are seldom told from one of four."""
    first = order[0]
    fours = [one for one in order if one.judged is first.judged and one.way == (4,)]
    if first.positions.max() > 2 or not fours or fours[0].score < first.score - IN_FOUR:
        return order
    return [fours[0], *(one for one in order if one is not fours[0])]
