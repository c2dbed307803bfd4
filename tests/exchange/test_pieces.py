"""Edits taken apart."""

import pytest

from copies import edited, made_trace
from eavesong.exchange.lines import Course, curves_of
from eavesong.exchange.pieces import Piece, pieces_of
from eavesong.exchange.trace import Trace

NEAR = 0.05
"""Seconds a seam may be off: five moments."""


def found(song, copy):
    return pieces_of(curves_of(song), curves_of(copy), Course(0.0))


def told(pieces):
    return [(piece.begin, piece.end, None if piece.line is None else piece.line.delay) for piece in pieces]


def test_the_whole_is_one_piece(trace):
    (piece,) = found(trace, trace)
    assert (piece.begin, piece.end) == pytest.approx((0, 60), abs=0.001)
    assert piece.line is not None
    assert piece.line.delay == pytest.approx(0, abs=0.001)
    assert piece.likeness == pytest.approx(1, abs=0.01)


def test_a_cut(trace):
    """From 20 to 32 s cut out: what follows is 12 s early."""
    one, two = found(trace, edited(trace, (0, 20), (32, 60)))
    assert (one.end, two.begin) == pytest.approx((20, 20), abs=NEAR)
    assert two.line is not None
    assert two.line.delay == pytest.approx(-12, abs=0.005)
    assert two.source() == pytest.approx((32, 60), abs=NEAR)


def test_a_part_that_comes_twice(trace):
    one, two = found(trace, edited(trace, (0, 40), (28, 60)))
    assert two.line is not None
    assert (one.end, two.line.delay) == pytest.approx((40, 12), abs=NEAR)


def test_what_is_new_is_new(trace):
    new = made_trace(10, seed=9)
    one, middle, two = found(trace, edited(trace, (0, 25), new, (25, 60)))
    assert middle.line is None
    assert (middle.begin, middle.end) == pytest.approx((25, 35), abs=0.3)
    assert two.line is not None
    assert two.line.delay == pytest.approx(10, abs=0.005)
    assert one.source()[0] == 0
    assert middle.source() == (0.0, 0.0)


def test_a_beginning_taken_away(trace):
    (piece,) = found(trace, edited(trace, (17, 60)))
    assert piece.source() == pytest.approx((17, 60), abs=NEAR)


def test_something_over_the_beginning_is_no_edit(trace):
    """Six seconds under other sounds that are louder: the song goes on beneath."""
    moments = trace.moments // 2
    over = made_trace(6, seed=5).moments
    moments[:600] = over.clip(moments[:600] // 2)
    pieces = found(trace, Trace(moments))
    assert pieces[-1].line is not None
    assert pieces[-1].line.delay == pytest.approx(0, abs=0.005)
    assert len([piece for piece in pieces if piece.line]) == 1


def test_another_song_has_no_pieces(trace):
    assert told(found(trace, made_trace(60, seed=77, bar=1.7)))[0][2] is None


def test_a_piece_says_where_it_is_from():
    piece = Piece(10.0, 20.0, Course(2.0, 2.0))
    assert piece.source() == (4.0, 9.0)
    assert piece.seconds == 10.0
