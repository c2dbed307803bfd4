"""Where frames come from: which frame a moment of the song shows, and looks that stay."""

import math

import numpy as np
import pytest

from eavesong.frames import PatchRow
from eavesong.playback.source import Still, frame_at, one_colour, time_of
from eavesong.playback.wiring import wire

ROWS = (PatchRow("arch", 0, 2, 0, 6, "GRB", universe=1, slot=1, controller="box", address="192.0.2.7"),)


class Frames:
    """A rate and a start."""

    def __init__(self, rate, start):
        self.frame_rate, self.start = rate, start


@pytest.mark.parametrize("rate", [1.0, 30.0, 40.0, 59.94])
def test_each_frame_is_shown_from_its_own_time_on(rate):
    frames = Frames(rate, 2.5)
    for number in range(500):
        assert frame_at(frames, time_of(frames, number)) == number
        assert frame_at(frames, time_of(frames, number) + 0.9 / rate) == number
    assert frame_at(frames, 2.4) < 0


def test_a_colour_goes_to_its_place_in_the_order():
    assert one_colour(ROWS, 6, (1.0, 0.0, 0.0), 0.5).tolist() == [0, 128, 0] * 2
    assert one_colour(ROWS, 6, (1.0, 1.0, 1.0), 9.0).max() == 128


def test_a_still_look_stays():
    still = Still("black", wire(ROWS, 6, "a.h5"), seconds=2.0)
    assert still.frame_count == 20
    assert not still.read(7).any()
    assert Still("glow", wire(ROWS, 6, "a.h5"), np.full(6, 9, np.uint8)).frame_count == math.inf
