"""Sequences that flash, each labelled by the words of a standard: how often and by how much is known as it is made.

WCAG 2.2, "general flash and red flash thresholds": a flash is a pair of opposing changes of relative luminance of 10 %
or more of the maximum where the darker image is below 0.80, or of a saturated red (R/(R+G+B) >= 0.8, linear) by more
than 0.2 in CIE 1976 u'v' (ISO 9241-391:2016); no more than three in any one second. Technique G19: six changes pass,
seven fail. ITU-R BT.1702 and the Ofcom guidance that repeats it, as secondary texts quote them: 20 cd/m² of a screen of
200 with the darker image below 160, which are the same shares; flashes whose leading edges are 360 ms (50 Hz) or
334 ms (60 Hz) apart or more are no risk, whatever their number.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

RATES = (25, 30, 50, 60)
"""Frames a second."""

SECONDS = 2.5

STEPS = [
    (0.0, 0.09), (0.0, 0.11), (0.0, 1.0), (0.2, 0.29), (0.2, 0.31), (0.3, 0.9), (0.5, 0.59), (0.5, 0.61), (0.7, 0.79),
    (0.78, 0.89), (0.79, 1.0), (0.81, 0.92), (0.85, 1.0),
]  # fmt: skip
"""Luminance of the two states, on either side of a tenth and of four fifths."""

COLOURS = (
    "#ff0000", "#8c0000", "#e90d7a", "#cd4e4e", "#652222", "#ff2d00", "#e61e3c", "#ff8000", "#ffff00", "#00ff00",
    "#008800", "#3c8484", "#1f8686", "#0000ff", "#8000ff", "#808080", "#ffffff",
)  # fmt: skip
"""sRGB; #cd4e4e, #3c8484, #1f8686, #e90d7a and #652222 are of pse-test-media (Jordan 2025, doi
10.1007/978-3-031-93848-1_7), the others were chosen to lie on either side of what counts."""


@dataclass(frozen=True, eq=False)
class Labelled:
    """One sequence, and what the standards call it."""

    name: str
    rate: int
    """Frames a second."""
    light: Floats
    """(f, 3), linear."""
    fails: bool


def sequences(rate: int) -> list[Labelled]:
    """All of them at one frame rate."""
    return [*_even(rate), *_bursts(rate), *_stairs(rate), *_reds(rate), *_far_apart(rate)]


def _too_many(starts: Sequence[int], ends: Sequence[int], rate: int) -> bool:
    """Whether seven changes, each from its start to its end, in frames, lie within one second (G19)."""
    return any(last - first <= rate for first, last in zip(starts, ends[6:], strict=False))


def _counts(low: float, high: float) -> bool:
    return high - low >= 0.1 and low < 0.8


def _states(edges: Sequence[int], rate: int, first: Floats, second: Floats) -> Floats:
    """(f, 3): one state and the other in turn, from each of the edges on."""
    turn = np.searchsorted(np.asarray(edges), np.arange(round(SECONDS * rate)), side="right") % 2
    return np.where(turn[:, None] == 0, first, second)


def _grey(level: float) -> Floats:
    return np.full(3, level)


def _edges(hertz: float, rate: int, begin: int = 3, end: float = SECONDS) -> list[int]:
    """Frames of the changes of so many flashes a second."""
    times = np.arange(int(2 * hertz * end)) / (2 * hertz)
    return [begin + int(np.floor(time * rate + 1e-9)) for time in times]


def _even(rate: int) -> Iterator[Labelled]:
    """On and off evenly, 1 to 12 flashes in a second, between two greys."""
    for hertz, (low, high) in product((1.0, 2.0, 2.5, 3.0, 3.6, 4.0, 5.0, 6.0, 8.0, 12.0), STEPS):
        edges = _edges(hertz, rate)
        fails = _counts(low, high) and _too_many([edge - 1 for edge in edges], edges, rate)
        light = _states(edges, rate, _grey(low), _grey(high))
        yield Labelled(f"{hertz:g} a second, {low:g} to {high:g}", rate, light, fails)


def _bursts(rate: int) -> Iterator[Labelled]:
    """So many changes in a row, each a few frames after the last, and once more after a pause."""
    for count, gap, pause in product(range(4, 10), (2, 3, 4), (0.2, 0.5, 0.9)):
        first = [5 + gap * n for n in range(count)]
        again = first[-1] + round(pause * rate)
        edges = [*first, *(again + gap * n for n in range(count))]
        fails = _too_many([edge - 1 for edge in edges], edges, rate)
        light = _states(edges, rate, _grey(0.1), _grey(0.6))
        yield Labelled(f"{count} changes, {gap} frames apart, twice, {pause:g} s between", rate, light, fails)


def _stairs(rate: int) -> Iterator[Labelled]:
    """Every change in several steps of less than a tenth each: one change, from where it begins to where it ends."""
    for steps, hold, count in product((2, 3), (0, 2, 4), (5, 6, 7, 9)):
        each = steps + hold
        up = 0.5 + 0.09 * np.arange(steps + 1)
        turn = [np.r_[up[1:], np.full(hold, up[-1])], np.r_[up[-2::-1], np.full(hold, up[0])]]
        level = np.concatenate([np.full(4, 0.5), *(turn[n % 2] for n in range(count))])
        level = np.pad(level, (0, rate), "edge")
        starts = [3 + each * n for n in range(count)]
        fails = _too_many(starts, [start + steps for start in starts], rate)
        yield Labelled(f"{count} changes in {steps} steps", rate, np.repeat(level[:, None], 3, axis=1), fails)


def _reds(rate: int) -> Iterator[Labelled]:
    """Two colours in turn, at three flashes a second and at four; chromaticities by colour-science."""
    import colour

    coded = np.array([[int(text[at : at + 2], 16) for at in (1, 3, 5)] for text in COLOURS]) / 255
    light = colour.models.eotf_sRGB(coded)
    uv = colour.xy_to_Luv_uv(colour.XYZ_to_xy(colour.RGB_to_XYZ(light, "sRGB", apply_cctf_decoding=False)))
    share, luminance = light[:, 0] / light.sum(axis=1), light @ [0.2126, 0.7152, 0.0722]
    for a, b in product(range(len(COLOURS)), repeat=2):
        apart, step = float(np.hypot(*(uv[a] - uv[b]))), abs(luminance[a] - luminance[b])
        if a == b or abs(apart - 0.2) < 1e-3 or abs(step - 0.1) < 1e-3:
            continue
        red = apart > 0.2 and max(share[a], share[b]) >= 0.8
        counts = red or _counts(min(luminance[a], luminance[b]), max(luminance[a], luminance[b]))
        for hertz in (3.0, 4.0):
            edges = _edges(hertz, rate)
            fails = bool(counts) and _too_many([edge - 1 for edge in edges], edges, rate)
            name = f"{COLOURS[a]} and {COLOURS[b]}, {hertz:g} a second"
            yield Labelled(name, rate, _states(edges, rate, light[a], light[b]), fails)


def _far_apart(rate: int) -> Iterator[Labelled]:
    """Short flashes whose leading edges are as far apart as BT.1702 calls safe, for as long as the sequence lasts."""
    apart = {25: 9, 50: 18, 30: 10, 60: 20}[rate]  # 360 ms, 334 ms
    for lit in (1, 2, 3, 5):
        edges = [edge for begin in range(4, round(SECONDS * rate), apart) for edge in (begin, begin + lit)]
        yield Labelled(f"{lit} frames, {apart} apart", rate, _states(edges, rate, _grey(0.0), _grey(1.0)), False)
