"""The beat grid: musical time at any second, and back."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from eavesong.errors import BeatsError
from eavesong.music.grid import BeatGrid, Section


@st.composite
def grids(draw: st.DrawFn) -> BeatGrid:
    """Any grid: tempo and metre change as they like, with or without a pickup."""
    pickup = draw(st.integers(0, 3))
    bars = draw(st.lists(st.integers(1, 7), min_size=2, max_size=12))
    positions = [*range(4 - pickup + 1, 5), *(beat for bar in bars for beat in range(1, bar + 1))]
    gaps = draw(
        st.lists(st.floats(0.05, 3.0), min_size=len(positions), max_size=len(positions)),
    )
    times = np.cumsum(gaps)
    return BeatGrid(tuple(times), tuple(positions), (), float(times[-1]) + 1)


def four_four(beats: int = 16, tempo: float = 120.0, start: float = 1.0) -> BeatGrid:
    times = start + np.arange(beats) * 60 / tempo
    return BeatGrid(tuple(times), tuple(k % 4 + 1 for k in range(beats)), (), float(times[-1]) + 1)


def test_at_120_a_minute_a_second_is_two_beats_and_half_a_bar() -> None:
    now = four_four().musical_time([1.0, 2.0, 3.25, 0.5])
    assert now.beat.tolist() == [0, 2, 4.5, -1]
    assert now.bar.tolist() == [0, 0.5, 1.125, -0.25]
    assert now.beats_per_bar.tolist() == [4, 4, 4, 4]
    assert now.beat.dtype == now.bar.dtype == now.section.dtype == np.float64


def test_pickup_beats_come_before_beat_0() -> None:
    grid = BeatGrid((0.5, 1.0, 1.5, 2.0, 2.5, 3.0), (3, 1, 2, 3, 1, 2), (), 4.0)
    now = grid.musical_time(grid.times)
    assert now.beat.tolist() == [-1, 0, 1, 2, 3, 4]
    assert now.bar == pytest.approx([-1 / 3, 0, 1 / 3, 2 / 3, 1, 4 / 3])
    assert (grid.beat_count, grid.bar_count, grid.tempo) == (6, 2, 120.0)


def test_bars_of_different_lengths_each_run_from_whole_to_whole() -> None:
    positions = (1, 2, 3, 4, 1, 2, 3, 1, 2, 1, 2)
    grid = BeatGrid(tuple(float(k) for k in range(11)), positions, (), 11.0)
    now = grid.musical_time([2.0, 5.5, 8.0, 9.0, 10.0])
    assert now.bar == pytest.approx([0.5, 1.5, 2.5, 3.0, 3.5])
    assert now.beats_per_bar.tolist() == [4, 3, 2, 2, 2]
    assert grid.beats_in_bars == (4, 3, 2, 2)


def test_the_last_bar_is_as_long_as_the_one_before_it_when_the_song_ends_inside_it() -> None:
    grid = four_four(beats=9)
    assert grid.beats_in_bars == (4, 4, 4)
    assert grid.time_of_bar(4.0) == pytest.approx(grid.time_of_beat(16.0))


def test_before_and_after_the_beats_the_nearest_interval_goes_on() -> None:
    grid = BeatGrid((10.0, 11.0, 12.0, 12.5), (1, 2, 3, 4), (), 20.0)
    now = grid.musical_time([8.0, 14.0])
    assert now.beat.tolist() == [-2, 6]
    assert now.bar.tolist() == [-0.5, 1.5]


@given(grids(), st.floats(-50, 200))
def test_back_from_beats_and_bars_to_the_same_second(grid: BeatGrid, seconds: float) -> None:
    now = grid.musical_time(seconds)
    assert grid.time_of_beat(now.beat[0]) == pytest.approx(seconds, abs=1e-9)
    assert grid.time_of_bar(now.bar[0]) == pytest.approx(seconds, abs=1e-9)


@given(grids(), st.floats(-20, 80))
def test_back_from_seconds_to_the_same_beat_and_bar(grid: BeatGrid, count: float) -> None:
    assert grid.musical_time(grid.time_of_beat(count)).beat[0] == pytest.approx(count, abs=1e-9)
    assert grid.musical_time(grid.time_of_bar(count)).bar[0] == pytest.approx(count, abs=1e-9)


@given(grids(), st.lists(st.floats(-50, 200), min_size=2, max_size=50))
def test_musical_time_never_runs_backwards(grid: BeatGrid, seconds: list[float]) -> None:
    now = grid.musical_time(sorted(seconds))
    assert (np.diff(now.beat) >= 0).all()
    assert (np.diff(now.bar) >= 0).all()


@given(grids())
def test_beats_are_whole_at_beats_and_bars_are_whole_at_downbeats(grid: BeatGrid) -> None:
    beats = grid.musical_time(grid.times).beat
    assert (beats == np.round(beats)).all()
    assert (np.diff(beats) == 1).all()
    assert grid.musical_time(grid.downbeats).bar.tolist() == list(range(grid.bar_count))
    assert grid.musical_time(grid.downbeats).beat[0] == 0


@given(grids(), st.lists(st.floats(-50, 200), min_size=1, max_size=20))
def test_a_song_at_twice_the_tempo_is_the_same_in_musical_time(grid: BeatGrid, seconds: list[float]) -> None:
    halves = tuple(time / 2 for time in grid.times)
    sections = (Section(1.0, 9.0, "a"), Section(9.0, 20.0, "b"))
    slow = BeatGrid(grid.times, grid.positions, sections, grid.duration)
    fast = BeatGrid(halves, grid.positions, (Section(0.5, 4.5, "a"), Section(4.5, 10.0, "b")), grid.duration / 2)
    then, now = slow.musical_time(seconds), fast.musical_time(np.array(seconds) / 2)
    # Halving changes no digit of a float64, so neither does anything computed from the times.
    for name in ("beat", "bar", "beats_per_bar", "section", "section_progress"):
        assert np.array_equal(getattr(then, name), getattr(now, name)), name


def test_sections_count_from_0_and_their_progress_from_0_to_1() -> None:
    sections = (Section(1.0, 3.0, "verse"), Section(4.0, 8.0, "chorus"))
    grid = BeatGrid((1.0, 2.0), (1, 2), sections, 10.0)
    now = grid.musical_time([0.0, 1.0, 2.0, 3.5, 4.0, 5.0, 9.0])
    assert now.section.tolist() == [0, 0, 0, 0, 1, 1, 1]
    assert now.section_progress.tolist() == [0, 0, 0.5, 1, 0, 0.25, 1]


def test_without_sections_the_whole_song_is_one() -> None:
    now = BeatGrid((1.0, 2.0), (1, 2), (), 10.0).musical_time([0.0, 5.0, 10.0])
    assert now.section.tolist() == [0, 0, 0]
    assert now.section_progress.tolist() == [0, 0.5, 1]


def test_grids_with_the_same_values_are_equal_whatever_they_were_made_from() -> None:
    one = BeatGrid((1.0, 2.0), (1, 2), (), 10.0)
    other = BeatGrid(np.array([1, 2]), np.array([1, 2]), [], 10)  # type: ignore[arg-type]
    one.musical_time([0.0])  # what it remembers of itself plays no part
    assert one == other
    assert hash(one) == hash(other)
    assert one != BeatGrid((1.0, 2.5), (1, 2), (), 10.0)


@pytest.mark.parametrize(
    ("times", "positions", "message"),
    [
        ((1.0,), (1,), "there are 1 beats"),
        ((1.0, 2.0), (1,), "2 times but 1 positions"),
        ((1.0, 1.0), (1, 2), "beat 2: 1 s does not come after the beat before it"),
        ((2.0, 1.0), (1, 2), "beat 2: 1 s does not come after"),
        ((1.0, 1.002), (1, 2), "is 0.002 s after the beat before it"),
        ((1.0, math.nan), (1, 2), "beat 2: the time nan s is not in a song"),
        ((1.0, math.inf), (1, 2), "beat 2: the time inf s is not in a song"),
        ((-1.0, 1.0), (1, 2), "beat 1: the time -1 s is not in a song"),
        ((1.0, 2.0), (1, 3), "position 3 follows position 1"),
        ((1.0, 2.0), (0, 1), "0 is no position in a bar"),
        ((1.0, 2.0), (2, 3), "no beat has position 1"),
    ],
)
def test_what_is_no_beat_grid_says_why(times: tuple[float], positions: tuple[int], message: str) -> None:
    with pytest.raises(BeatsError, match=message):
        BeatGrid(times, positions, (), 10.0)


@pytest.mark.parametrize(
    ("sections", "message"),
    [
        ([Section(2.0, 1.0, "a")], "section 1: the section ends at 1 s but starts at 2 s"),
        ([Section(0.0, 2.0, "a"), Section(1.0, 3.0, "b")], "section 2: the section starts at 1 s, inside"),
        ([Section(0.0, math.inf, "a")], "is not in a song"),
        ([Section(0.0, 1.0, "")], "'' is no label"),
        ([Section(0.0, 1.0, "a\nb")], "is no label"),
        ([Section(0.0, 1.0, "a" * 81)], "the label is too long"),
    ],
)
def test_sections_that_cannot_follow_each_other_say_why(sections: list[Section], message: str) -> None:
    with pytest.raises(BeatsError, match=message):
        BeatGrid((1.0, 2.0), (1, 2), tuple(sections), 10.0)


def test_all_that_is_wrong_is_told_at_once() -> None:
    with pytest.raises(BeatsError) as caught:
        BeatGrid((2.0, 1.0, 3.0), (1, 5, 6), (Section(1.0, 0.0, "a"),), math.nan)
    assert len(caught.value.problems) == 4


def test_neighbours_of_one_kind_are_one_span() -> None:
    parts = (Section(0.0, 2.0, "A", "quiet"), Section(2.0, 4.0, "B", "quiet"), Section(4.0, 6.0, "C", "high"),
             Section(7.0, 8.0, "C", "high"), Section(8.0, 9.0, "D"), Section(9.0, 10.0, "D"))  # fmt: skip
    grid = BeatGrid((0.0, 1.0), (1, 2), parts, 10.0)
    assert [(span.start, span.end, span.kind) for span in grid.kind_spans] == [
        (0.0, 4.0, "quiet"), (4.0, 6.0, "high"), (7.0, 8.0, "high"), (8.0, 9.0, ""), (9.0, 10.0, ""),
    ]  # fmt: skip


def test_sections_by_the_bars_at_which_they_begin_and_those_of_the_pickup_at_the_first() -> None:
    """Bars of two seconds from the first second on."""
    parts = (Section(0.0, 0.5, "pickup"), Section(0.5, 3.0, "verse"), Section(3.0, 8.0, "chorus"))
    begin = replace(four_four(), sections=parts).beginnings
    assert {bar: section.label for bar, section in begin.items()} == {1: "verse", 2: "chorus"}
