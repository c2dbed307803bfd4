"""Strings: runs of pixels that are driven alike, and where their colours lie in a frame."""

import numpy as np

from eavesong.layout import load_layout
from eavesong.scene.strings import strings_of

HOUSE = """
title = "House"
[[prop]]
name = "a"
shape = "line"
at = [0, 0, 0]
to = [1, 0, 0]
pixels = 4
[[prop]]
name = "b"
shape = "line"
at = [0, 1, 0]
to = [1, 0, 0]
pixels = 3
[[controller]]
name = "box"
[[controller.output]]
number = 1
order = "GRB"
brightness = 0.5
chain = ["a"]
[[controller.output]]
number = 2
order = "RGBW"
gamma = 2.0
chain = ["b"]
"""


def test_each_way_to_drive_pixels_is_a_run_of_its_own(tmp_path):
    (tmp_path / "house.toml").write_text(HOUSE)
    house = load_layout(tmp_path / "house.toml")
    strings = strings_of(house, np.ones(7, bool))
    assert strings.runs[:, :3].tolist() == [[0, 4, 0], [4, 7, 12]]
    assert strings.runs[:, 4:].tolist() == [[1, 0, 2, -1], [0, 1, 2, 3]]
    assert [strings.drives[drive] for drive in strings.runs[:, 3]] == [(0.5, 1.0), (1.0, 2.0)]
    assert strings.curves.shape[0] == len(strings.drives)


def test_what_is_not_wanted_stands_in_no_run(tmp_path):
    (tmp_path / "house.toml").write_text(HOUSE)
    house = load_layout(tmp_path / "house.toml")
    wanted = np.array([True, False, True, True, False, False, True])
    assert strings_of(house, wanted).runs[:, :2].tolist() == [[0, 1], [2, 4], [6, 7]]
