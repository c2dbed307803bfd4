"""The same house from a layout and from the frames made on it."""

import numpy as np

from eavesong.frames import open_frames
from eavesong.layout import load_layout
from eavesong.preview.subject import subject_of, subject_of_layout
from eavesong.scene import Reopened
from lamps import LAMPS, house, write

LAYOUT = """
title = "Two"
[frame]
from = [-2, -0.5, -1]
to = [12, 8, 6]
[street]
distance = 20
[[prop]]
name = "eaves"
shape = "line"
from = [0, 3, 0]
to = [10, 3, 0]
pixels = 3
tags = ["eaves"]
"""


def test_a_layout_tells_what_its_frames_tell(tmp_path):
    (tmp_path / "a.toml").write_text(LAYOUT)
    layout = load_layout(tmp_path / "a.toml")
    own = subject_of_layout(layout)
    about = house(own.metres, texts={"layout": LAYOUT}, origin=(-2.0, -0.5, -1.0))
    with open_frames(write(tmp_path / "a.h5", about, np.zeros((2, 9), np.uint8))) as frames:
        again = subject_of(Reopened(frames))
    np.testing.assert_allclose(own.metres, again.metres)
    assert own.sight.ground == again.sight.ground == 0.5
    assert own.sight.standpoint == again.sight.standpoint
    assert [(row.first_pixel, row.pixel_count) for row in own.props] == [(0, 3)]
    assert own.box.tolist() == [14, 8.5, 7]
    assert len(LAMPS) == own.props[0].pixel_count
