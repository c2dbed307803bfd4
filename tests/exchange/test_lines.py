"""Delay and speed: exact where the truth is known."""

import numpy as np
import pytest

from copies import made_trace, moved
from eavesong.exchange.lines import Course, curves_of, exact_line, likeness_along, peak, rough_lines, stretched
from eavesong.exchange.trace import Trace

LINES = [(0.0, 1.0), (1.373, 1.0), (-4.218, 1.0), (0.5, 1.0031), (-2.0, 0.98), (3.0, 1.02)]


@pytest.mark.parametrize(("delay", "stretch"), LINES)
def test_a_line_is_found_exactly(trace, delay, stretch):
    """Within 2 ms all along: a fifth of a moment."""
    one, other = curves_of(trace), curves_of(moved(trace, delay, stretch, 66.0))
    line = exact_line(one, other, rough_lines(one, other)[0])
    seconds = np.linspace(5, 55, 20)
    assert line.at(seconds) == pytest.approx(delay + stretch * seconds, abs=0.002)


def test_louder_makes_no_difference(trace):
    """Curves have mean 0 and mean square 1 whatever the scale."""
    half = Trace((trace.moments // 2).astype(np.uint8))
    assert np.abs(curves_of(half) - curves_of(trace)).max() < 0.2
    assert curves_of(trace).mean(axis=1) == pytest.approx(np.zeros(5), abs=0.02)


def test_a_silent_band_stays_silent():
    moments = np.zeros((300, 5), np.uint8)
    moments[::50, 0] = 90
    curves = curves_of(Trace(moments))
    assert not curves[1:].any()
    assert curves[0].any()


def test_the_peak_of_a_parabola():
    """Exact for a parabola, by its definition: the top of 1 - (x - 3.3)² is at 3.3 and 1 high."""
    at, height = peak(1 - (np.arange(8) - 3.3) ** 2)
    assert (at, height) == (pytest.approx(3.3), pytest.approx(1.0))
    assert peak(np.array([3.0, 2.0, 1.0])) == (0.0, 3.0)


def test_a_piece_is_like_itself_alone(trace):
    """The cosine of equal curves is 1 (Cauchy-Schwarz), of others less."""
    curves = curves_of(trace)
    along = likeness_along(curves[:, 1000:1500], curves)
    assert int(np.argmax(along)) == 1000
    assert along.max() == pytest.approx(1.0, abs=1e-4)
    assert np.sort(along)[-40] < 0.9


def test_stretching():
    ramp = np.tile(np.arange(100, dtype=np.float32), (5, 1))
    assert stretched(ramp, 1.0) is ramp
    assert stretched(ramp, 1.5).shape == (5, 150)
    assert stretched(ramp, 1.5)[0, 60] == pytest.approx(40)


def test_a_line():
    assert Course(1.5, 2.0).at(3.0) == 7.5


def test_too_short_to_say_more(trace):
    """With fewer than three pieces the rough line stays."""
    short = curves_of(Trace(trace.moments[:900]))
    assert exact_line(short, short, Course(0.0)) == Course(0.0)


def test_other_songs_have_other_lines():
    one, other = curves_of(made_trace(seed=1)), curves_of(made_trace(seed=2))
    assert len(rough_lines(one, other)) > 1
