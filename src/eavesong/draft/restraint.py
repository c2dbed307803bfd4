"""Restraint: the house is as bright as the song is loud, bar by bar, in a few steps that a person can read."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from eavesong.draft.cue import Draft, joined
from eavesong.draft.form import Form

Floats = NDArray[np.float64]

STEPS = 6
"""How many brightnesses a song has; one of them is full light."""
DARKEST = 0.24
"""Light that is left of a look at most is taken away down to this (by eye: less is lost in the street's own light)."""
RATIO = 7.0
"""Light of the strongest bars against that of the softest, in a song with loud and soft ones."""
FAINTEST = 0.004
"""Light below which a bar counts as this dark."""
FULLEST = 80
"""Percentile of bars that have full light."""
EVEN, WIDE = 0.06, 0.3
"""Ranges of loudness (0..1) below which a song is as loud all through, and its light with it, and from which the whole
ratio is used."""

MOST, LONG = 60, 240.0
"""Cues that a song has at most up to this many seconds, so that people read them; longer songs have more, in step."""


def veils(form: Form, given: Floats) -> Iterator[Draft]:
    """A dark cue over everything for each brightness but the full one, with the bars that have it.

    given: (bars,) how much light the cues below give; what they give too much in soft bars is taken away.
    """
    if form.range < EVEN:
        return
    ratio = 1 + (RATIO - 1) * min(1.0, form.range / WIDE)
    wanted = ratio ** (_evened(form) - 1)
    left = wanted / np.maximum(given, FAINTEST)
    left = np.clip(left / np.percentile(left, FULLEST), DARKEST, 1.0)
    steps = np.round(np.log(left) / np.log(DARKEST) * (STEPS - 1)).astype(int)
    for step in range(STEPS - 1, 0, -1):
        bars = _spans(steps == step, form.first)
        if bars:
            light = DARKEST ** (step / (STEPS - 1))
            yield Draft(
                f"Dimmed to {round(100 * light)} %", "softer bars: the whole house stands back with the song", "plain",
                ("all",), bars, {}, "black", opacity=round(1 - light, 2),
            )  # fmt: skip


def to_spare(cues: Sequence[Draft], seconds: float) -> list[Draft]:
    """Those ``cues`` to leave out of a song this long: the shortest that can be spared, until what is left is readable.

    Veils come on top of these, one less than there are brightnesses, and windows.
    """
    most = round(MOST * max(1.0, seconds / LONG)) - (STEPS - 1) - 1
    able = [cue for cue in cues if cue.spare]
    able.sort(key=lambda cue: sum(end - start for start, end in cue.bars))
    return able[: max(0, len(cues) - most)]


def _evened(form: Form) -> Floats:
    """Strengths (bars,) from which single bars do not stand out: the middle of three."""
    padded = np.concatenate([form.strengths[:1], form.strengths, form.strengths[-1:]])
    middle: Floats = np.median(np.stack([padded[:-2], padded[1:-1], padded[2:]]), axis=0)
    return middle


def _spans(here: np.ndarray, first: int) -> tuple[tuple[float, float], ...]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], here.astype(int), [0]]))) + first
    return joined([(float(a), float(b)) for a, b in list(pairwise(edges.tolist()))[::2]])
