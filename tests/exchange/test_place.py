"""Beats, sections, events and spans of cues in a copy, where the truth can be said by hand."""

import numpy as np
import pytest

from copies import CUT, WHOLE, aligned, made_grid
from eavesong.exchange.aligned import Alignment
from eavesong.exchange.lines import Course
from eavesong.exchange.pieces import Piece
from eavesong.exchange.place import Carried, bars_doubled, bars_missing, placed_events, placed_grid
from eavesong.music.events import Event, Events
from eavesong.music.grid import BeatGrid, Section

TWICE = aligned((0, 32.2, 0.0), (32.2, 76, 16.0))
"""Carried 9 to 16 come twice."""
LONGER = aligned((0, 16.2, 0.0), (16.2, 24.2, None), (24.2, 68, 8.0))
"""Eight seconds are new."""


def test_the_same_copy_has_the_same_grid(grid):
    placed = placed_grid(grid, WHOLE)
    assert placed.times == pytest.approx(grid.times, abs=1e-4)
    assert (placed.positions, placed.sections) == (grid.positions, grid.sections)


def test_later_and_slower(grid):
    found = Alignment(Course(1.5, 1.01), (Piece(0, 1.5, None), Piece(1.5, 62.1, Course(1.5, 1.01))), 60.0, 62.1, 1, 0.5)
    placed = placed_grid(grid, found)
    assert placed.times == pytest.approx(1.5 + 1.01 * np.array(grid.times), abs=1e-4)


def test_bars_cut_out(grid):
    assert bars_missing(grid, CUT) == [(9, 16)]
    assert bars_doubled(grid, CUT) == []
    placed = placed_grid(grid, CUT)
    assert placed.bar_count == grid.bar_count - 8
    assert np.diff(placed.times) == pytest.approx(np.full(placed.beat_count - 1, 0.5), abs=1e-3)
    assert [part.label for part in placed.sections] == ["part 1", "part 3", "part 4"]


def test_bars_behind_a_cut_have_other_numbers(grid):
    """Bars 9 to 16 are gone, so bar 17 is bar 9."""
    elsewhere = Carried(grid, placed_grid(grid, CUT), CUT).bars_elsewhere()
    assert elsewhere[0] == (17, 9)
    assert {bar - now for bar, now in elsewhere} == {8}
    assert Carried(grid, grid, WHOLE).bars_elsewhere() == []


def test_bars_that_come_twice(grid):
    assert bars_doubled(grid, TWICE) == [(9, 16)]
    placed = placed_grid(grid, TWICE)
    assert placed.bar_count == grid.bar_count + 8
    assert [part.label for part in placed.sections] == ["part 1", "part 2", "part 2", "part 3", "part 4"]


def test_what_is_new_takes_what_is_heard_there(grid):
    heard = BeatGrid(tuple(np.arange(0.2, 68, 1.0)), tuple(1 + k % 4 for k in range(68)),
                     (Section(0, 20, "a", "high"), Section(20, 68, "b", "quiet")), 68.0)  # fmt: skip
    placed = placed_grid(grid, LONGER, heard)
    new = [part for part in placed.sections if part.label == "new"]
    assert [(part.start, part.end, part.kind) for part in new] == [(16.2, 20, "high"), (20, 24.2, "quiet")]
    inside = [time for time in placed.times if 16.3 < time < 24.1]
    assert np.diff(inside) == pytest.approx(np.ones(len(inside) - 1))


def test_where_pieces_meet_inside_a_bar_it_is_counted_on(grid):
    """From the third beat of bar 8 to the second of bar 12: positions go 1 2 3 4, then on to the next downbeat."""
    found = aligned((0, 15.2, 0.0), (15.2, 52.5, -7.5))
    placed = placed_grid(grid, found)
    before = [index for index, time in enumerate(placed.times) if time < 15.1][-1]
    assert placed.positions[before - 1 : before + 4] == (1, 2, 3, 4, 5)
    assert placed.positions[before + 4] == 1


def test_events_go_along_and_spans_end_where_pieces_end():
    events = Events.of(
        [Event(3, "hit", 0.5), Event(15, "build"), Event(18, "build-end"), Event(20, "hit"), Event(40, "low")]
    )
    placed = placed_events(events, CUT)
    assert [(each.time, each.label) for each in placed.items] == [
        (3.0, "hit"), (15.0, "build"), (16.2, "build-end"), (24.0, "low"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("found", "way", "span", "wanted"),
    [
        (WHOLE, "bars", (3, 7), [(3, 7)]),
        (CUT, "bars", (3, 7), [(3, 7)]),
        (CUT, "bars", (9, 17), []),
        (CUT, "bars", (17, 21), [(9, 13)]),
        (CUT, "bars", (5, 21), [(5, 13)]),
        (CUT, "beats", (65, 69), [(33, 37)]),
        (CUT, "times", (40, 44.5), [(24, 28.5)]),
        (TWICE, "bars", (9, 13), [(9, 13), (17, 21)]),
        (LONGER, "bars", (7, 11), [(7, 9), (13, 15)]),
    ],
)
def test_where_spans_of_cues_are(grid, found, way, span, wanted):
    heard = made_grid(68.0)
    bars = Carried(grid, placed_grid(grid, found, heard), found)
    told = bars.spans(way, *span)
    assert [each for pair in told for each in pair] == pytest.approx(
        [each for pair in wanted for each in pair], abs=0.06
    )


LONGER_ROUND = aligned((0, 9, None), (9, 69, 9.0), (69, 78, None))
"""Nine seconds are new before the song, so that bar 1 begins at 9.2 s, and nine after it, up to within bar 35."""
A_LITTLE_LONGER = aligned((0, 1.83, None), (1.83, 61.83, 1.83))
TURNED = aligned((0, 30, -30.0), (30, 60, 30.0))
"""The song's second half comes first."""


@pytest.mark.parametrize(
    ("found", "way", "span", "wanted"),
    [
        (LONGER_ROUND, "bars", (-1, 5), [(-4, 5)]),
        (LONGER_ROUND, "bars", (-9, 5), [(-9, 5)]),
        (LONGER_ROUND, "bars", (1, 5), [(1, 5)]),  # the song begins before its first bar
        (LONGER_ROUND, "bars", (25, 31), [(25, 36)]),
        (LONGER_ROUND, "bars", (25, 90), [(25, 90)]),
        (LONGER_ROUND, "bars", (25, 30), [(25, 30)]),
        (LONGER_ROUND, "times", (0, 60), [(0, 78)]),
        (A_LITTLE_LONGER, "bars", (0, 5), [(-1, 5)]),  # bar 0 begins at 0.03 s there
        (aligned((0, 55, -5.0)), "bars", (-1, 7), [(-1, 4)]),  # bar 4 is the first whole one
        (TURNED, "times", (0, 10), [(30, 40)]),
        (TURNED, "times", (50, 60), [(20, 30)]),
    ],
)
def test_cues_that_reach_to_the_ends_of_the_song_reach_to_those_of_the_copy(grid, found, way, span, wanted):
    spans = Carried(grid, placed_grid(grid, found), found).cue_spans(way, *span)
    assert spans == [pytest.approx(pair, abs=0.06) for pair in wanted]


def test_sections_meet_where_pieces_meet_beside_their_ends(grid):
    """The second of them begins at 16.2 s; a cut just before and after it left 0.04 s that belong to neither."""
    found = aligned((0, 16.18, 0.0), (16.18, 44, -15.98))
    placed = placed_grid(grid, found)
    assert [one.end for one in placed.sections[:-1]] == [other.start for other in placed.sections[1:]]
