"""Paths of beats: against trying every path, and on pulses laid down."""

from __future__ import annotations

import numpy as np
import pytest

from eavesong.music.candidates import ALIKE, between, candidates, reward, share_in_common
from eavesong.music.paths import best_path
from eavesong.music.pulse import METRES, TEMPI, Pulse


def without_pulse(frames: int) -> Pulse:
    """A pulse that says nothing."""
    nothing = np.full(frames, -8.0, np.float32)
    return Pulse(nothing, nothing, np.zeros(TEMPI, np.float32), np.zeros(len(METRES), np.float32))


def pulses(frames: int, every: float, first: int = 7) -> np.ndarray:
    curve = np.zeros(frames)
    curve[np.rint(np.arange(first, frames, every)).astype(int)] = 1.0
    return curve


def worth(path: list[int], curve: np.ndarray, stiffness: float) -> float:
    """What a path is worth by its definition: rewards times intervals, less changes of interval."""
    gaps = np.diff(path)
    total = min(path[0], gaps[0]) * curve[path[0]] + float((curve[path[1:]] * gaps).sum())
    return total - stiffness * float(np.abs(np.diff(np.log(gaps))).sum())


def every_path(frames: int, shortest: int, longest: int) -> list[list[int]]:
    """All paths of three beats at least that begin within the first interval and end within the last one."""
    found: list[list[int]] = []

    def grow(path: list[int]) -> None:
        last = path[-1] - path[-2] if len(path) > 1 else None
        if len(path) > 2 and path[0] - (path[1] - path[0]) < 0 and last and path[-1] >= frames - last:
            found.append(path)
        for gap in range(shortest, longest + 1):
            supple = last is None or abs(gap - last) <= max(1, gap // 16)
            if supple and path[-1] + gap < frames:
                grow([*path, path[-1] + gap])

    for first in range(longest):
        grow([first])
    return found


@pytest.mark.parametrize("stiffness", [0.0, 5.0])
def test_no_path_is_worth_more_than_the_one_found(stiffness: float) -> None:
    chance = np.random.default_rng(5)
    for _ in range(5):
        curve = chance.uniform(0, 1, 26)
        best = max(worth(path, curve, stiffness) for path in every_path(26, 5, 8))
        found = list(best_path(curve, 5, 8, stiffness))
        assert worth(found, curve, stiffness) >= best - 1e-4


@pytest.mark.parametrize("every", [38, 50.5, 61, 75])
def test_pulses_are_followed(every: float) -> None:
    curve = pulses(3000, every)
    path = best_path(reward(curve), 38, 75, 300.0)
    true = np.arange(7, 3000, every)
    assert share_in_common(path.astype(float), true) > 0.95


def test_the_true_level_and_the_off_beat_are_among_the_candidates() -> None:
    curves = np.repeat(pulses(4000, 48.0)[:, None], 5, axis=1).astype(np.float32) * 5
    true = np.arange(7, 4000, 48.0)
    found = candidates(curves, without_pulse(4000))
    assert max(share_in_common(beats, true) for beats in found) > 0.95
    assert max(share_in_common(beats, between(true)) for beats in found) > 0.95
    assert max(share_in_common(beats, true[::2]) for beats in found) > 0.95


@pytest.mark.parametrize(("size", "every"), [(2, 16.0), (3, 17.0), (3, 29.0), (4, 16.0)])
def test_equal_notes_are_counted_off_from_each(size: int, every: float) -> None:
    """Nothing tells which of the notes are beats: every way of counting them is a candidate."""
    found = candidates(np.repeat(pulses(4000, every)[:, None], 5, axis=1).astype(np.float32) * 5, without_pulse(4000))
    for first in range(size):
        true = np.arange(7 + first * every, 4000, size * every)
        assert max(share_in_common(beats, true) for beats in found) > 0.95


def test_no_two_candidates_are_the_same() -> None:
    chance = np.random.default_rng(1)
    found = candidates(chance.gamma(1.0, 1.0, (3000, 5)).astype(np.float32), without_pulse(3000))
    shares = [share_in_common(one, other) for index, one in enumerate(found) for other in found[:index]]
    assert max(shares) < ALIKE


@pytest.mark.parametrize("frames", [1, 5, 30, 80])
def test_short_curves_give_short_paths_or_none(frames: int) -> None:
    path = best_path(np.ones(frames), 20, 40, 300.0)
    assert (np.diff(path) >= 20).all()
    assert len(candidates(np.ones((frames, 5), np.float32), without_pulse(frames))) >= 0
