"""The metre: which beats begin a bar, decided for the whole song at once from the evidence at every beat."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numba import types

from eavesong.kernels.store import kept

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

METRES = (2, 3, 4, 5, 6, 7)
"""Beats of a bar that are looked for."""
RARE = {2: 0.1, 3: 0.0, 4: 0.0, 5: 0.5, 6: 0.2, 7: 0.6}
"""What each beat of such a bar costs: fives and sevens must be clear to be believed."""
CHANGE = 7.0
"""What it costs to go on in another metre."""
SLIP = 14.0
"""What it costs to break a bar off and begin anew."""
FARTHEST = 5.0
"""Log odds beyond which a single beat's evidence counts no further."""


def bars(evidence: Floats, metres: tuple[int, ...], changing: bool = True) -> tuple[NDArray[np.int64], float]:
    """The position (n,) of each beat in its bar, 1 for the downbeat, and how well the evidence agrees, per beat.

    ``evidence`` (n,) is the log odds of each beat being a downbeat. Bars have one of ``metres``; the metre may change
    where ``changing``. The second figure is the mean log likelihood, 0 at best.
    """
    held = np.clip(np.asarray(evidence, np.float64), -FARTHEST, FARTHEST)
    on, off = -np.log1p(np.exp(-held)), -np.log1p(np.exp(held))
    sizes = np.array(metres, np.int64)
    costs = np.array([RARE[metre] if len(metres) > 1 else 0.0 for metre in metres])
    came, score = _decoded(on, off, sizes, costs, CHANGE if changing else 1e9, SLIP)
    return _followed(came, sizes, int(np.argmax(score))), float(score.max()) / len(on)


def joined(positions: NDArray[np.int64]) -> NDArray[np.int64]:
    """Positions (n,) in which a beat that was a bar by itself ends the bar before, or is the pickup of the first."""
    whole = positions.copy()
    for beat in range(len(whole) - 1):
        if whole[beat] == whole[beat + 1] == 1:
            whole[beat] = whole[beat - 1] + 1 if beat else positions.max()
    return whole


def _decode(on, off, sizes, costs, change, slip):  # type: ignore[no-untyped-def]
    count, kinds = len(on), len(sizes)
    begins = np.zeros(kinds + 1, np.int64)
    for kind in range(kinds):
        begins[kind + 1] = begins[kind] + sizes[kind]
    states = begins[kinds]
    score, new = np.zeros(states), np.zeros(states)
    came = np.zeros((count, states), np.int16)
    for kind in range(kinds):
        score[begins[kind]] = on[0] - costs[kind]
        for state in range(begins[kind] + 1, begins[kind + 1]):
            score[state] = off[0] - costs[kind]
    for beat in range(1, count):
        ended, best_end = 0, -1e30
        for kind in range(kinds):
            if score[begins[kind + 1] - 1] > best_end:
                ended, best_end = begins[kind + 1] - 1, score[begins[kind + 1] - 1]
        for kind in range(kinds):
            first, last = begins[kind], begins[kind + 1] - 1
            chosen, value = last, score[last]
            for state in range(first, last):
                if score[state] - slip > value:
                    chosen, value = state, score[state] - slip
            if best_end - change > value:
                chosen, value = ended, best_end - change
            new[first] = value + on[beat] - costs[kind]
            came[beat, first] = chosen
            for state in range(first + 1, last + 1):
                new[state] = score[state - 1] + off[beat] - costs[kind]
                came[beat, state] = state - 1
        score, new = new, score
    return came, score


def _positions(came, sizes, state):  # type: ignore[no-untyped-def]
    count = len(came)
    begins = np.append(0, np.cumsum(sizes))
    positions = np.zeros(count, np.int64)
    for beat in range(count - 1, -1, -1):
        kind = 0
        while state >= begins[kind + 1]:
            kind += 1
        positions[beat] = state - begins[kind] + 1
        state = came[beat, state]
    return positions


_FLOATS, _WHOLE, _CAME = types.float64[::1], types.int64[::1], types.int16[:, ::1]
_decoded = kept(_decode, types.Tuple((_CAME, _FLOATS))(_FLOATS, _FLOATS, _WHOLE, _FLOATS, types.float64, types.float64))
_followed = kept(_positions, _WHOLE(_CAME, _WHOLE, types.int64))
