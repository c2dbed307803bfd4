"""Descriptions that fit together, and layouts turned into them."""

from dataclasses import replace

import numpy as np
import pytest

from eavesong.frames import PatchRow, PropRow, describe
from eavesong.frames.description import colour_channels
from eavesong.layout import load_layout

LAYOUT = """
title = "Three bulbs and a post"
[[prop]]
name = "eaves"
shape = "line"
from = [0, 3, 0]
to = [4, 3, 0]
pixels = 171
tags = ["roof", "front"]
[[prop]]
name = "post"
shape = "line"
to = [0, 1, 0]
pixels = 2
[[controller]]
name = "attic"
address = "192.0.2.7"
spanning = true
[[controller.output]]
number = 3
order = "GRB"
chain = ["eaves", { prop = "post", order = "RGBW", gamma = 2.2 }]
"""


@pytest.fixture
def layout(tmp_path):
    path = tmp_path / "house.toml"
    path.write_text(LAYOUT)
    return load_layout(path)


def test_a_layout_brings_its_props_patch_places_and_text(layout):
    description = describe(layout, title="Frost", frame_rate=40, texts={"show": "x"}, hashes={"audio": "00"})
    assert [(prop.name, prop.first_pixel, prop.pixel_count) for prop in description.props] == [
        ("eaves", 0, 171), ("post", 171, 2),
    ]  # fmt: skip
    assert description.props[0].tags == ("front", "roof")
    assert description.channel_count == 171 * 3 + 2 * 4
    assert description.texts == {"layout": LAYOUT, "show": "x"}
    np.testing.assert_array_equal(description.metres[:, 0], layout.pixels.X)
    np.testing.assert_array_equal(description.places[:, 1], layout.pixels.y)


def test_a_pixel_across_two_universes_stands_in_two_rows(layout):
    """170 RGB pixels take 510 of a universe's 512 slots (ANSI E1.11), so pixel 170 has two channels in each."""
    rows = [
        (row.first_pixel, row.pixel_count, row.first_channel, row.channel_count, row.universe, row.slot)
        for row in describe(layout, title="", frame_rate=40).patch
    ]
    assert rows == [
        (0, 170, 0, 510, 1, 1), (170, 1, 510, 2, 1, 511), (170, 1, 512, 1, 2, 1), (171, 2, 513, 8, 2, 2),
    ]  # fmt: skip
    post = describe(layout, title="", frame_rate=40).patch[-1]
    assert (post.controller, post.address, post.output, post.order) == ("attic", "192.0.2.7", 3, "RGBW")
    assert post.gamma == pytest.approx(2.2)


def test_a_draft_without_controllers_is_sent_nowhere(tmp_path):
    path = tmp_path / "draft.toml"
    path.write_text(LAYOUT.split("[[controller]]")[0])
    patch = describe(load_layout(path), title="", frame_rate=40).patch
    assert patch == (PatchRow("eaves", 0, 171, 0, 513, "RGB"), PatchRow("post", 171, 2, 513, 6, "RGB"))


def test_colours_are_found_by_the_letters_of_the_order():
    patch = (PatchRow("a", 0, 2, 0, 6, "GRB"), PatchRow("b", 2, 1, 6, 4, "WRGB"))
    rgb, white = colour_channels(patch, 3)
    assert rgb.tolist() == [[1, 0, 2], [4, 3, 5], [7, 8, 9]]
    assert white.tolist() == [-1, -1, 6]


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"frame_rate": 0.0}, "a frame rate is 0.1 to 1,000 a second, not 0"),
        ({"frame_rate": float("nan")}, "not nan"),
        ({"start": float("inf")}, "not at inf"),
        ({"props": (PropRow("eaves", 0, 49), PropRow("post", 50, 0))}, "'post' has pixels 50 to 49, where 49 of 50"),
        ({"places": np.zeros((50, 2))}, r"places has a row of 3 for each pixel, not the shape \(50, 2\)"),
        ({"metres": np.zeros((49, 3))}, "places and metres hold the same pixels"),
        ({"patch": (PatchRow("eaves", 0, 49, 0, 147, "RGB"),)}, "pixel 49 stands in no row of the patch"),
        ({"patch": (PatchRow("eaves", 0, 51, 0, 153, "RGB"),)}, "'eaves' names pixel 50 of 50"),
        ({"patch": (PatchRow("eaves", 0, 50, 0, 150, "RGX"),)}, "'RGX' is not a colour order"),
        ({"patch": (PatchRow("eaves", 0, 50, 9, 150, "RGB"),)}, "'eaves' runs beyond the 150 channels"),
    ],
)
def test_parts_that_do_not_fit_are_refused(house, change, message):
    with pytest.raises(ValueError, match=message):
        replace(house(), **change)
