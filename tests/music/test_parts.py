"""Sections in songs that are put together from known bars, so where they begin is known without listening."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from eavesong.music.bands import BAND_COUNT, FRAME_RATE, Powers
from eavesong.music.grid import BeatGrid
from eavesong.music.parts import find_sections

from .conftest import RATE
from .test_bands import powers_of

SHAPES = {letter: np.random.default_rng(seed).uniform(-5, -1, BAND_COUNT) for seed, letter in enumerate("abcd")}
"""Four sounds: powers of ten in each band."""


def powers_like(plan: Sequence[tuple[str, int]], gain: float = 1.0, lead_in: float = 0.0, seed: int = 0) -> Powers:
    """The powers of bars of 2 s, four beats each: so many of each sound, every frame a little different."""
    bars = [letter for letter, count in plan for _ in range(count)]
    frames = np.repeat(np.array([SHAPES[letter] for letter in bars]), 2 * FRAME_RATE, axis=0)
    chance = np.random.default_rng(seed)
    bands = 10 ** (frames + chance.normal(0, 0.2, frames.shape)) * gain
    bands[np.arange(len(bands)) % 50 < 5] *= 3  # beats
    bands = np.concatenate([np.zeros((round(lead_in * FRAME_RATE), BAND_COUNT)), bands]).astype(np.float32)
    total = bands.sum(axis=1)
    return Powers(bands, total, bands[:, :7].sum(axis=1), total, bands[:, 25:].sum(axis=1), len(bands) / FRAME_RATE)


def grid_over(powers: Powers, beats_per_bar: int = 4, first: float = 0.0) -> BeatGrid:
    """Beats every half second."""
    times = np.arange(first, powers.duration, 0.5)
    return BeatGrid(tuple(times), tuple(k % beats_per_bar + 1 for k in range(len(times))), (), powers.duration)


def found(powers: Powers, grid: BeatGrid | None = None, **more: NDArray[np.float32]) -> list[tuple[float, str]]:
    return [(part.start, part.label) for part in find_sections(powers, grid or grid_over(powers), **more)]


def test_sections_begin_where_the_sound_changes_and_the_same_sound_bears_the_same_letter() -> None:
    # Bars of 1 s: 8 with a low tone, 8 with a high one and noise, 8 low again.
    t = np.arange(24 * RATE) / RATE
    loud = (t >= 8) & (t < 16)
    noise = np.random.default_rng(1).uniform(-0.3, 0.3, len(t))
    sound = np.where(loud, 0.5 * np.sin(2 * np.pi * 900 * t) + noise, 0.2 * np.sin(2 * np.pi * 110 * t))
    grid = BeatGrid(tuple(np.arange(0, 24, 0.25)), tuple(k % 4 + 1 for k in range(96)), (), 24.0)
    sections = find_sections(powers_of(sound), grid)
    assert [(part.start, part.end, part.label) for part in sections] == [
        (0.0, 8.0, "A"),
        (8.0, 16.0, "B"),
        (16.0, 24.0, "A"),
    ]


@pytest.mark.parametrize(
    "plan",
    [
        [("a", 8), ("b", 8), ("a", 8), ("b", 8)],
        [("a", 4), ("b", 8), ("c", 8), ("b", 8), ("c", 8), ("d", 8), ("c", 8), ("a", 4)],
        [("a", 4), ("b", 12), ("c", 8), ("b", 12), ("c", 16)],
        [("a", 8), ("b", 6), ("c", 10), ("a", 8)],  # uneven lengths cost more, but what is plain to hear counts
    ],
)
def test_forms_are_found_again(plan: list[tuple[str, int]]) -> None:
    starts = 2.0 * np.cumsum([0, *(count for _, count in plan[:-1])])
    heard = found(powers_like(plan))
    assert [start for start, _ in heard] == starts.tolist()
    # The same sounds bear the same letters, named in the order in which they come.
    names = {sound: chr(ord("A") + k) for k, sound in enumerate(dict.fromkeys(sound for sound, _ in plan))}
    assert [label for _, label in heard] == [names[sound] for sound, _ in plan]


def test_mir_eval_takes_the_sections_and_finds_them_right() -> None:
    import mir_eval

    powers = powers_like([("a", 8), ("b", 8), ("a", 8)])
    sections = find_sections(powers, grid_over(powers))
    intervals = np.array([[part.start, part.end] for part in sections])
    truth = np.array([[0.0, 16], [16, 32], [32, 48]])
    labels = [part.label for part in sections]
    assert mir_eval.segment.detection(truth, intervals, window=0.5, trim=True)[2] == 1
    assert mir_eval.segment.pairwise(truth, ["x", "y", "x"], intervals, labels)[2] == 1


def test_a_song_that_stays_the_same_is_cut_into_long_stretches_of_one_letter() -> None:
    # Nothing changes but chance: no boundary is right, and letters must not pretend there are.
    heard = found(powers_like([("a", 48)]))
    assert len(heard) <= 6
    assert {label for _, label in heard} == {"A"}


def test_chords_part_what_sounds_the_same() -> None:
    powers = powers_like([("a", 32)])
    chroma = np.full((640, 24), 1e-4, np.float32)
    for bar in range(32):
        # Two loops of four chords, eight bars each, in turn.
        chord = (0, 5, 7, 9)[bar % 4] if bar // 8 % 2 == 0 else (2, 11, 4, 6)[bar % 4]
        chroma[20 * bar : 20 * bar + 20, [chord, 12 + chord]] = 1.0
    assert [start for start, _ in found(powers, chroma=chroma)] == [0, 16, 32, 48]


@settings(max_examples=15, deadline=None)
@given(decibels=st.floats(-60, 20), seed=st.integers(0, 5))
def test_loud_and_soft_recordings_have_the_same_sections(decibels: float, seed: int) -> None:
    plan = [("a", 4), ("b", 8), ("c", 8), ("b", 8), ("c", 8)]
    loud, soft = powers_like(plan, seed=seed), powers_like(plan, gain=10 ** (decibels / 10), seed=seed)
    assert found(soft) == found(loud)


@settings(max_examples=10, deadline=None)
@given(silence=st.integers(1, 500).map(lambda hundredths: hundredths / 100))
def test_silence_before_the_song_moves_its_sections(silence: float) -> None:
    plan = [("a", 8), ("b", 8), ("c", 8), ("b", 8)]
    later = powers_like(plan, lead_in=silence)
    assert found(later, grid_over(later, first=silence)) == [
        (0.0, "A"),
        *((pytest.approx(start + silence, abs=1e-6), label) for start, label in found(powers_like(plan))[1:]),
    ]


@settings(max_examples=30, deadline=None)
@given(
    plan=st.lists(st.tuples(st.sampled_from("abcd"), st.integers(1, 9)), min_size=1, max_size=6),
    metre=st.integers(1, 7),
    first=st.floats(0, 3),
)
def test_sections_cover_the_song_and_begin_on_downbeats_whatever_it_is(
    plan: list[tuple[str, int]], metre: int, first: float
) -> None:
    powers = powers_like(plan)
    if powers.duration < first + 1:
        return
    grid = grid_over(powers, metre, first)
    sections = find_sections(powers, grid)
    assert sections[0].start == 0
    assert sections[-1].end == powers.duration
    assert all(one.end == other.start for one, other in pairwise(sections))
    assert {part.start for part in sections[1:]} <= {round(time, 6) for time in grid.downbeats}
    BeatGrid(grid.times, grid.positions, sections, grid.duration)  # raises where they do not fit


@pytest.mark.parametrize("seconds", [0.3, 1.0, 2.0, 9.0])
def test_a_song_of_a_few_bars_is_one_section(seconds: float) -> None:
    powers = powers_of(np.zeros(round(seconds * RATE)))
    grid = BeatGrid((0.0, 0.1), (1, 2), (), seconds)
    assert [(part.start, part.end, part.label) for part in find_sections(powers, grid)] == [(0.0, seconds, "A")]


def test_silence_is_one_sound() -> None:
    powers = powers_of(np.zeros(60 * 8000), rate=8000)
    assert {label for _, label in found(powers)} == {"A"}


def test_metres_may_change() -> None:
    powers = powers_like([("a", 8), ("b", 6)])  # 16 s, then 12 s of bars that are counted in three
    beats = tuple(np.arange(0, 28, 0.5))
    positions = tuple(k % 4 + 1 if k < 32 else (k - 32) % 3 + 1 for k in range(56))
    assert found(powers, BeatGrid(beats, positions, (), 28.0)) == [(0.0, "A"), (16.0, "B")]


def test_an_hour_of_sections_is_found_as_a_minute_is() -> None:
    plan = [("abcd"[k % 4], 8) for k in range(225)]
    powers = powers_like(plan)
    chroma = np.random.default_rng(0).uniform(0, 0.1, (36_000, 24)).astype(np.float32)
    chroma[np.arange(36_000), np.arange(36_000) // 20 % 4] += 1.0  # a loop of four chords, all the way
    assert found(powers, chroma=chroma) == [(16.0 * k, "ABCD"[k % 4]) for k in range(225)]
