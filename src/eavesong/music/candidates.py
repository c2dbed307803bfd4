"""Candidates for the beats of a song: whole explanations of it, each on one metrical level and phase.

Nearly all that goes wrong in finding beats is the level (half, double, two thirds) or the off-beat, and one decoder
that is tuned to avoid one of them falls for another. So beats are found in several overlapping ranges of tempo, each of
which holds every song at some level, and whole candidates are compared afterwards. Where all notes are equally strong
the path of a slow range begins on any of them, or counts two where there are three: so the notes themselves are
followed too, and counted off in twos, threes and fours from each.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from eavesong.music.bands import FRAME_RATE
from eavesong.music.paths import best_path

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from eavesong.music.pulse import Pulse

    Floats = NDArray[np.float64]
    Singles = NDArray[np.float32]

RANGES = ((40, 80, 2), (57, 114, 2), (80, 160, 2), (113, 226, 1), (150, 300, 1))
"""Beats a minute between which paths are found, an octave each, and how many frames are taken as one: a beat that is
to be found within 20 ms first costs a quarter of one within 10 ms."""
PULSES = ((150, 300), (280, 440))
"""Notes a minute between which a pulse is followed whose notes are counted off."""
COUNTED = (2, 3, 4)
"""Notes of the pulse to a beat."""
SLOWEST, FASTEST = 40.0, 200.0
"""Beats a minute between which notes are counted off."""
LOUDEST = 6.0
"""Times the usual at which a rise counts in full: one crash is no reason to put the beats on it."""
SPREAD = 1.5
"""Frames, standard deviation, over which a rise is smeared: beats need not be exact."""
RIGID, STIFF, SUPPLE = 1_500.0, 300.0, 60.0
"""What a change of tempo costs: for machines, for most players, and for songs that jump or swim."""
BEATEN = 1.5
"""What a frame is worth where the pulse is sure of a beat."""
FEWEST_NOTES = 16
"""Notes of a pulse: four beats of four."""
CLEAR = 0.2
"""Share of the height of the clearest peaks from which a peak is an onset."""
SAME = 0.04
"""Seconds within which beats are the same, when candidates are compared."""
ALIKE = 0.93
"""Share of same beats that makes two candidates one."""


def candidates(curves: Singles, pulse: Pulse) -> list[Floats]:
    """Beats (n,) in frames for each candidate, at most some ninety, from the novelty curves (f, 5) and the pulse."""
    whole, low, middle, high = slice(None), slice(0, 2), slice(1, 4), slice(3, None)
    ways = [(None, RIGID), (None, STIFF), (whole, STIFF), (None, SUPPLE), (whole, SUPPLE), (whole, RIGID)]
    ways += [(low, STIFF), (middle, STIFF), (high, STIFF)]
    found: list[NDArray[np.float64]] = []
    for part, stiffness in ways:  # what is rewarded is made when it is needed: all at once take much memory
        rewarded = _likely(pulse) if part is None else _mixed(curves, part)
        for slow, fast, step in RANGES:
            coarse = rewarded[: len(rewarded) // step * step].reshape(-1, step).max(axis=1)
            path = best_path(coarse, *_periods(slow, fast, step), stiffness / step)
            beats = path.astype(np.float64) * step + (step - 1) / 2
            if len(beats) > 3:
                _add(found, beats)
                _add(found, between(beats))
    rewarded = _mixed(curves, whole)
    for slow, fast in PULSES:
        for beats in counted_off(best_path(rewarded, *_periods(slow, fast), STIFF).astype(np.float64)):
            _add(found, beats)
    return found


def _likely(pulse: Pulse) -> Floats:
    """What a beat in each frame is worth (f,) to who follows the pulse."""
    return np.asarray(BEATEN / (1 + np.exp(-pulse.beat.astype(np.float64))))


def _mixed(curves: Singles, part: slice) -> Floats:
    """What a beat in each frame is worth (f,) to who hears these of the novelty curves (f, 5)."""
    return reward(np.minimum(curves[:, part], LOUDEST).mean(axis=1))


def counted_off(pulse: Floats) -> list[Floats]:
    """Every second, third and fourth note of a pulse (n,), counted from each, where that is a tempo of beats."""
    if len(pulse) < FEWEST_NOTES:
        return []
    tempo = 60 * FRAME_RATE / float(np.median(np.diff(pulse)))
    sizes = [size for size in COUNTED if SLOWEST < tempo / size < FASTEST]
    return [pulse[first::size] for size in sizes for first in range(size)]


def _periods(slow: float, fast: float, step: int = 1) -> tuple[int, int]:
    """The shortest and the longest period, in frames taken ``step`` at a time, of so many beats a minute."""
    return round(60 * FRAME_RATE / step / fast), round(60 * FRAME_RATE / step / slow)


def onsets(curves: Singles) -> Floats:
    """The frames (n,) at which something clearly begins: peaks of the mean of the curves (f, 5)."""
    whole = np.minimum(curves, LOUDEST).mean(axis=1)
    peaks = np.flatnonzero((whole[1:-1] > whole[:-2]) & (whole[1:-1] >= whole[2:])) + 1
    if not len(peaks):
        return np.zeros(0)
    clear: Floats = peaks[whole[peaks] > CLEAR * np.percentile(whole[peaks], 95)].astype(np.float64)
    return clear


def paths_near(curves: Singles, period: float) -> list[Floats]:
    """Beats (n,) in frames about ``period`` frames apart, and the off-beats: what is there when a tempo is wanted."""
    worth = reward(np.minimum(curves, LOUDEST).mean(axis=1))
    shortest, longest = max(2, int(period * 0.94)), int(np.ceil(period * 1.06))
    beats = best_path(worth, shortest, longest, STIFF).astype(np.float64)
    return [beats, between(beats)] if len(beats) > 3 else []


def reward(curve: Floats | Singles) -> Floats:
    """What a beat in each frame is worth: the curve (f,), smeared and compressed."""
    reach = np.arange(-6, 7)
    bell = np.exp(-0.5 * (reach / SPREAD) ** 2)
    return np.log1p(np.convolve(np.pad(curve, 6), bell / bell.sum(), mode="valid"))


def between(beats: Floats) -> Floats:
    """The off-beats: half way between the beats, and one before them where there is room."""
    middles = (beats[1:] + beats[:-1]) / 2
    first = beats[0] - (beats[1] - beats[0]) / 2
    return np.concatenate([[first], middles]) if first >= 0 else middles


def _add(found: list[Floats], beats: Floats) -> None:
    if all(share_in_common(beats, other) < ALIKE for other in found):
        found.append(beats)


def share_in_common(one: Floats, other: Floats) -> float:
    """The share of beats (frames) that two candidates have in common, 0 to 1 (an F measure)."""
    away = np.abs(one[nearest(other, one)] - other)
    return 2 * float((away <= SAME * FRAME_RATE).sum()) / (len(one) + len(other))


def nearest(values: Floats, among: Floats) -> NDArray[np.int64]:
    """Which of ``among`` (n,), rising, is nearest to each of ``values`` (m,)."""
    right = np.clip(np.searchsorted(among, values), 1, len(among) - 1)
    return np.where(values - among[right - 1] <= among[right] - values, right - 1, right)
