"""Moments as people say them: clock, bar, and what is lit."""

import numpy as np

from eavesong.frames import open_frames
from eavesong.layout import load_layout
from eavesong.limits.moments import Moment, Moments
from eavesong.scene import Reopened
from street import Street


def test_a_moment_names_clock_bar_and_cues(tmp_path):
    street = Street(tmp_path)
    with open_frames(street.frames) as file:
        song = Moments(Reopened(file), load_layout(street.old))
        moment = song.moment(0.5)
        assert (moment.clock, moment.bar) == ("0:00.50", "1.25")
        assert moment.cues == ("cue 3 (glimmer)", "cue 2 (runners)", "cue 1 (gradient)")
        ring = np.arange(song.layout.pixel_count) >= 0
        ring[:] = song.layout.pixels.prop == 2
        assert song.moment(0.5, None, ring).cues == ("cue 2 (runners)",)


def test_what_is_not_told_is_left_out():
    assert str(Moment(1.0, "0:01.00", "", ())) == "0:01.00"
    assert str(Moment(1.0, "0:01.00", "2", ("a", "b", "c", "d"))) == "0:01.00, bar 2, a, b, c and 1 more"
