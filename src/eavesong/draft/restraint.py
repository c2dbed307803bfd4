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
DARKEST = 0.36
"""Light that is left of a look at most is taken away down to this (by eye: less is lost in the street's own light)."""
RATIO = 4.5
"""Light of the strongest bars against that of the softest, in a song with loud and soft ones."""
DOWN = 2.0
"""Beats in which light goes down."""
FAINTEST = 0.004
"""Light below which a bar counts as this dark."""
FULLEST = 80
"""Percentile of bars that have full light."""
HELD = 0.5
"""How far a phrase is as bright as all that has its letter, against as its own loudness is."""
LARGER = {"high": 1.4, "quiet": 0.6, "break": 0.65}
"""How much brighter some kinds of sections are than their loudness says: choruses are larger than verses."""
GROWN = 0.15
"""Share of light that a chorus has yet to gain the first of the times that it comes: each time it is brighter."""
EVEN, WIDE = 0.06, 0.3
"""Ranges of loudness (0..1) below which a song is as loud all through, and its light with it, and from which the whole
ratio is used."""

MOST, LONG = 60, 240.0
"""Cues that a song has at most up to this many seconds, so that people read them; longer songs have more, in step."""


def veils(form: Form, given: Floats) -> Iterator[Draft]:
    """A dark cue over everything for each brightness but the full one, with the bars that are as dark or darker.

    They lie over one another, so light goes down from one to the next and comes up at once.

    given: (bars,) how much light the cues below give; what they give too much in soft bars is taken away.
    """
    if form.range < EVEN and len({part.kind for part in form.parts}) == 1:
        return
    left = share_left(wanted(form), _of_phrases(form, given))
    steps = np.round(np.log(left) / np.log(DARKEST) * (STEPS - 1)).astype(int)
    once = round(1 - DARKEST ** (1 / (STEPS - 1)), 2)
    for step in range(1, STEPS):
        bars = _spans(steps >= step, form.first)
        if bars:
            why = "the whole house stands back with the song" if step == 1 else "softer still: the same again"
            yield Draft(
                f"Dimmed to {round(100 * (1 - once) ** step)} %", why, "plain", ("all",), bars, {}, "black",
                opacity=once, fade_in=DOWN,
            )  # fmt: skip


def wanted(form: Form) -> Floats:
    """How bright the house should be in each bar (bars,), beside the others: with loudness, and more in choruses."""
    ratio = 1 + (RATIO - 1) * min(1.0, form.range / WIDE)
    bright: Floats = ratio ** (_evened(form) - 1)
    for part in form.parts:
        to_come = (part.turns - part.turn) / max(part.turns - 1, 1) if part.kind == "high" else 0.0
        bright[part.start - form.first : part.end - form.first] *= LARGER.get(part.kind, 1.0) * (1 - GROWN * to_come)
    return bright


def share_left(bright: Floats, given: Floats) -> Floats:
    """How much of what is ``given`` is left (n,) where the house is to be as ``bright``: all of it in some."""
    left = bright / np.maximum(given, FAINTEST)
    # The percentile; numpy's own takes longer than all else that is asked of a costume, and drafts try thousands.
    below, over = divmod((len(left) - 1) * FULLEST / 100, 1)
    full = np.sort(left)[[int(below), min(int(below) + 1, len(left) - 1)]]
    shares: Floats = np.clip(left / (full[0] + (full[1] - full[0]) * over), DARKEST, 1.0)
    return shares


def room(seconds: float) -> int:
    """How many cues a song this long may have, besides veils."""
    return round(MOST * max(1.0, seconds / LONG)) - (STEPS - 1)


def to_spare(cues: Sequence[Draft], seconds: float) -> list[Draft]:
    """Those ``cues`` to leave out of a song this long: the shortest that can be spared, until what is left is readable.

    Veils come on top of these, one less than there are brightnesses, and what is lit where it has no other part.
    """
    able = [cue for cue in cues if cue.spare]
    able.sort(key=lambda cue: sum(end - start for start, end in cue.bars))
    return able[: max(0, len(cues) - room(seconds))]


def _evened(form: Form) -> Floats:
    """Strengths (bars,), one for all bars of a phrase, and half of the way to that of all that has its letter: what
    returns is known again by how bright it is."""
    strengths = _of_phrases(form, form.strengths)
    held = strengths.copy()
    for letter in form.letters:
        mine = np.concatenate([np.arange(part.start, part.end) for part in form.parts_of(letter)]) - form.first
        held[mine] = strengths[mine].mean()
    evened: Floats = HELD * held + (1 - HELD) * strengths
    return evened


def _of_phrases(form: Form, given: Floats) -> Floats:
    """The mean of what is ``given`` (bars,) over each phrase: who takes turns from bar to bar is not dimmed for it."""
    evened = given.copy()
    for start, end in (phrase for part in form.parts for phrase in part.phrases):
        bars = slice(start - form.first, end - form.first)
        evened[bars] = given[bars].mean()
    return evened


def _spans(here: np.ndarray, first: int) -> tuple[tuple[float, float], ...]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], here.astype(int), [0]]))) + first
    return joined([(float(a), float(b)) for a, b in list(pairwise(edges.tolist()))[::2]])
