"""Other bars on the same beats."""

from __future__ import annotations

import numpy as np

from eavesong.music import BeatGrid, Section
from eavesong.music.recount import recounted, with_sections

TIMES = tuple(0.5 + 0.5 * k for k in range(12))
FOUR = BeatGrid(TIMES, (3, 4, *(k % 4 + 1 for k in range(10))), (Section(0.0, 3.5, "A"), Section(3.5, 7.0, "B")), 7.0)


def test_another_metre_begins_where_the_first_bar_began() -> None:
    grid = recounted(FOUR, metre=3)
    assert grid.positions == (2, 3, 1, 2, 3, 1, 2, 3, 1, 2, 3, 1)
    assert (grid.times, grid.sections, grid.duration) == (FOUR.times, FOUR.sections, 7.0)


def test_a_first_downbeat_takes_the_nearest_beat_and_the_usual_metre() -> None:
    assert recounted(FOUR, first_downbeat=1.1).positions == (4, 1, 2, 3, 4, 1, 2, 3, 4, 1, 2, 3)
    assert recounted(FOUR, first_downbeat=0.0).positions == (1, 2, 3, 4) * 3


def test_bar_one_begins_where_it_is_said_to_and_only_a_pickup_stands_before_it() -> None:
    later = recounted(FOUR, metre=3, first_downbeat=4.1)
    at = int(np.argmin(np.abs(np.array(FOUR.times) - 4.1)))
    assert later.downbeats[0] == FOUR.times[at]
    assert later.times == FOUR.times[at - 2 :]
    assert later.positions[:5] == (2, 3, 1, 2, 3)


def test_nothing_asked_changes_nothing() -> None:
    assert recounted(FOUR) == FOUR


def test_bars_of_many_lengths_get_the_commonest() -> None:
    mixed = BeatGrid(TIMES, (1, 2, 3, 1, 2, 3, 1, 2, 3, 4, 1, 2), (), 7.0)
    assert recounted(mixed, first_downbeat=1.0).positions == (3, 1, 2) * 4


def test_sections_move_to_the_nearest_downbeats() -> None:
    grid = with_sections(recounted(FOUR, metre=3), FOUR.sections)
    assert grid.sections == (Section(0.0, 3.0, "A"), Section(3.0, 7.0, "B"))


def test_boundaries_in_the_middle_between_two_downbeats_all_move_on_to_the_next() -> None:
    """Sections of eight bars that begin with the third beat of a bar; their beats jitter by a hundredth of a second."""
    jitter = np.tile([0.01, -0.01, -0.01], 64)
    times = tuple(0.5 * k + jitter[k] for k in range(160))
    grid = BeatGrid(times, tuple(k % 4 + 1 for k in range(160)), (), 80.0)
    starts = [0.0, *(times[2 + 32 * n] for n in range(1, 5))]
    sections = tuple(Section(start, end, "A") for start, end in zip(starts, [*starts[1:], 80.0], strict=True))
    moved = with_sections(grid, sections).sections
    assert [grid.times.index(each.start) for each in moved[1:]] == [36, 68, 100, 132]
