"""The summary, as text and as data."""

from eavesong.layout.summary import layout_data, summary

HOUSE = """\
title = "A house"
[[prop]]
name = "eaves"
shape = "line"
to = [5, 0]
pixels = 200
tags = ["roofline"]
[[prop]]
name = "arch with quite a long name"
shape = "arch"
width = 1
height = 1
pixels = 20
repeat = { count = 2, step = [2, 0] }
tags = ["arch", "ground", "left", "lower", "path", "roofline", "window"]
"""
WIRED = (
    HOUSE
    + """\
[[controller]]
name = "box"
frame_rate_limit = 40
[[controller.output]]
number = 3
chain = ["eaves", "arch with quite a long name"]
"""
)


def test_the_summary_reads_at_80_columns(layout_of):
    text = summary(layout_of(WIRED))
    assert max(map(len, text.splitlines())) <= 80
    assert "240 pixels in 3 props on 9.8 m of wire" in text
    assert "eaves                   line           200      5.0  roofline" in text
    assert "arch with quite a long… arch            40      4.8  arch ground left lower" in text
    assert "box: E1.31 to multicast, at most 40 frames/s" in text
    assert "       3        3      240      720  RGB         1-2" in text
    assert "arch 2, ground 2, left 2" in text


def test_wishes_are_told(layout_of):
    wished = f'unlit = "arch"\n{HOUSE}[palettes]\nholly = "gold"\n'
    told = " ".join(summary(layout_of(wished)).split())
    dark = "Unlit: arch with quite a long name (all 2); 40 pixels are meant to stay dark."
    assert f"Colours of its own in place of holly. {dark}" in told
    assert [prop["lit"] for prop in layout_data(layout_of(wished))["props"]] == [True, False, False]


def test_one_unlit_prop_of_a_row_is_not_told_as_the_row(layout_of):
    assert "Unlit: arch with quite a long name 2; 20 pixels" in summary(
        layout_of(f'unlit = "arch with quite a long name 2"\n{HOUSE}')
    )


def test_dark_pixels_of_a_wire_take_slots(layout_of):
    dark = WIRED.replace("number = ", "null_pixels = 4\nnumber = ", 1)
    plain, more = (layout_data(layout_of(text))["controllers"][0]["outputs"][0] for text in (WIRED, dark))
    assert (more["null_pixels"], more["slots"] - plain["slots"]) == (4, 4 * len(plain["orders"][0]))
    assert "4 dark on the wire, counted in the slots alone" in summary(layout_of(dark))


def test_a_draft_says_so(layout_of):
    assert "No controllers yet: a draft, every pixel RGB." in summary(layout_of(HOUSE))


def test_the_data_add_up(layout_of):
    data = layout_data(layout_of(WIRED))
    assert data["pixels"] == sum(prop["pixels"] for prop in data["props"]) == 240
    assert data["channels"] == sum(output["slots"] for box in data["controllers"] for output in box["outputs"])
    assert data["tags"]["arch"] == 2


def test_a_house_in_feet_is_told_in_feet(layout_of):
    """A foot is 0.3048 m (international yard and pound agreement, 1959)."""
    text = summary(layout_of('units = "ft"\n' + HOUSE.replace("to = [5, 0]", "to = [40, 0]")))
    assert "eaves                   line           200     40.0  roofline" in text
    assert "feet" in text
    assert " m " not in text
    assert layout_data(layout_of('units = "ft"\n' + HOUSE))["props"][0]["wire"] == round(5 * 0.3048, 4)


def test_a_house_in_feet_is_told_in_feet_and_inches(layout_of) -> None:
    """The wire is the root of 40² + 10² ft, 41 ft 3 in; the box is half a pitch narrower at each end."""
    text = summary(layout_of('units = "ft"\n[[prop]]\nname = "a"\nshape = "line"\nto = [40, 10]\npixels = 400\n'))
    assert "props on 41 ft 3 in of wire" in text
    assert "The house frame is 39 ft 11 in wide, 10 ft high and 0 ft deep." in text
