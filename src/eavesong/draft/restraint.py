"""Restraint: the house is as bright as the song is loud, bar by bar, in a few steps that a person can read."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from eavesong.draft.cue import Draft, joined
from eavesong.draft.form import Form

STEPS = 5
"""How many brightnesses a song has; one of them is full light."""
DARKEST = 0.4
"""Light that is left in the softest bars of a song with loud and soft ones."""
EVEN = 0.06
"""Range of loudness (0..1) below which a song is as loud all through, and its light with it."""
WIDE = 0.35
"""Range from which all of the steps are used."""


def veils(form: Form) -> Iterator[Draft]:
    """A dark cue over everything for each brightness but the full one, with the bars that have it."""
    if form.range < EVEN:
        return
    depth = (1 - DARKEST) * min(1.0, 0.45 + 0.55 * form.range / WIDE)
    light = 1 - depth * (1 - _evened(form))
    step = np.round((light - (1 - depth)) / depth * (STEPS - 1)).astype(int)
    for level in range(STEPS - 1):
        bars = _spans(step == level, form.first)
        if bars:
            dark = depth * (1 - level / (STEPS - 1))
            yield Draft(
                f"{round(100 * (1 - dark))} % light", "softer bars: the whole house stands back with the song", "plain",
                ("all",), bars, {}, "black", opacity=round(dark, 2),
            )  # fmt: skip


def _evened(form: Form) -> np.ndarray:
    """Strengths (bars,) from which single bars do not stand out: the middle of three."""
    padded = np.concatenate([form.strengths[:1], form.strengths, form.strengths[-1:]])
    middle: np.ndarray = np.median(np.stack([padded[:-2], padded[1:-1], padded[2:]]), axis=0)
    return middle


def _spans(here: np.ndarray, first: int) -> tuple[tuple[float, float], ...]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], here.astype(int), [0]]))) + first
    return joined([(float(a), float(b)) for a, b in list(pairwise(edges.tolist()))[::2]])
