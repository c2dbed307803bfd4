"""What is told, in words that a person could check with a watch."""

import pytest

from copies import CUT, aligned, made_grid
from eavesong.exchange.aligned import Alignment
from eavesong.exchange.lines import Course
from eavesong.exchange.pieces import Piece
from eavesong.exchange.words import describe, rounds, sureness, why


@pytest.mark.parametrize(
    ("found", "told"),
    [
        (aligned((0, 60, 0.0)), ["the same as the one it was made for"]),
        (aligned((0, 61.37, 1.37)), ["starts 1.37 s later"]),
        (CUT, ["bars 9 to 16 are not in it"]),
        (aligned((0, 16.2, 0.0), (16.2, 24.2, None), (24.2, 68, 8.0)), ["0:16 to 0:24 is new"]),
        (aligned((0, 32.2, 0.0), (32.2, 76, 16.0)), ["bars 9 to 16 are in it more than once"]),
    ],
)
def test_what_is_different(found, told):
    assert describe(found, made_grid()) == told


def test_a_last_bar_that_the_song_has_half_of_is_in_its_copy_too():
    """Bar 30 begins at 58.2 s; the song, and its copy, end at 59 s."""
    assert describe(aligned((0, 59, 0.0), seconds=59.0), made_grid()) == ["the same as the one it was made for"]


def test_faster_is_faster():
    """60 s in 59.815 s: 0.31 % faster (60 / 59.815 = 1.0031)."""
    line = Course(0.0, 59.815 / 60)
    found = Alignment(line, (Piece(0, 59.815, line),), 60.0, 59.815, 1.0, 0.5)
    assert describe(found, made_grid()) == ["0.31 % faster"]


@pytest.mark.parametrize(
    ("likeness", "margin", "sure"),
    [(0.9, 0.4, "sure"), (0.5, 0.2, "sure"), (0.4, 0.08, "likely"), (0.5, 0.02, "unsure"), (0.95, 0.0, "sure")],
)
def test_how_sure(likeness, margin, sure):
    found = Alignment(Course(0.0), (Piece(0, 60, Course(0.0)),), 60.0, 60.0, likeness, margin)
    assert sureness(found) == sure
    assert "100 % of it goes together" in why(found)


@pytest.mark.parametrize(
    ("likeness", "own", "sure"), [(0.8, 0.6, "unsure"), (0.8, 0.9, "sure"), (0.8, None, "sure"), (0.86, 0.6, "sure")]
)
def test_bars_have_to_be_most_like_their_own(likeness, own, sure):
    found = Alignment(Course(0.0), (Piece(0, 60, Course(0.0)),), 60.0, 60.0, likeness, 0.2, own)
    assert sureness(found) == sure
    assert ("of the bars are most like their own" in why(found)) == (own is not None)


def test_a_few_seconds_alike_are_no_song():
    found = Alignment(Course(0.0), (Piece(0, 5, Course(0.0)), Piece(5, 60, None)), 60.0, 60.0, 0.9, 0.5)
    assert sureness(found) == "unsure"


def test_pieces_that_hardly_fit_are_no_edit():
    """Of several pieces each is where it fits best, which other songs do somewhere too."""
    pieces = (Piece(0, 30, Course(0.0)), Piece(30, 60, Course(9.0)))
    assert sureness(Alignment(Course(0.0), pieces, 60.0, 60.0, 0.4, 0.18)) == "unsure"
    assert sureness(Alignment(Course(0.0), pieces, 60.0, 60.0, 0.8, 0.18)) == "sure"


@pytest.mark.parametrize(
    ("elsewhere", "told"),
    [([], 0), ([(5, 1.0), (6, 2.0)], 0), ([(2, 1.0), (3, 2.0)], 1), ([(3, 1.0)], 1), ([(1, 1.5)], 1)],
)
def test_bars_that_are_counted_otherwise_are_told_where_rounds_of_four_begin_elsewhere(
    elsewhere: list[tuple[int, float]], told: int
) -> None:
    found = rounds(elsewhere)
    assert len(found) == told
    assert not told or found[0].startswith(
        f"bar {elsewhere[0][0]} of the song is bar {elsewhere[0][1]:g} of it, so what"
    )
