"""Orders on the wire where none is written, and where one leaves white out."""

import pytest

from eavesong.errors import LayoutError
from eavesong.layout.summary import summary
from eavesong.limits import limits
from powered import LINE

WHITE = """
[[pixel_type]]
name = "white too"
volts = 5
amperes = [0.012, 0.012, 0.012, 0.018]
"""
HOUSE = LINE.replace("5 V, 20 mA", "white too") + WHITE


def test_pixels_with_white_have_an_order_with_white_unless_told_otherwise(layout_of):
    patch = layout_of(HOUSE).patch
    assert patch.orders == ("RGBW",)
    assert patch.channel_count == 400
    assert layout_of(HOUSE.replace("number = 1", 'number = 1\norder = "GRBW"')).patch.orders == ("GRBW",)


def test_kinds_of_an_output_and_of_a_link_count_before_the_house_s(layout_of):
    plain = LINE + WHITE
    assert layout_of(plain).patch.orders == ("RGB",)
    assert layout_of(plain.replace("number = 1", 'number = 1\npixel_type = "white too"')).patch.orders == ("RGBW",)
    link = '{ prop = "eaves", pixel_type = "white too" }'
    assert layout_of(plain.replace('["eaves"]', f"[{link}]")).patch.orders == ("RGBW",)
    kept = HOUSE.replace("number = 1", 'number = 1\npixel_type = "5 V, 12 mA"')
    assert layout_of(kept).patch.orders == ("RGB",)


def test_dark_pixels_are_as_wide_as_those_behind_them(layout_of):
    (run,) = layout_of(HOUSE.replace("number = 1", "number = 1\nnull_pixels = 2")).patch.runs
    assert run.slot == 9


@pytest.mark.parametrize(
    ("old", "new", "place"),
    [
        ("number = 1", 'number = 1\norder = "GRB"', r"output 1, order"),
        ('["eaves"]', '[{ prop = "eaves", order = "GRB" }]', r"output 1, chain 1"),
    ],
)
def test_an_order_without_white_is_refused_for_pixels_that_have_it(layout_of, old, new, place):
    found = "the pixels of 'eaves', 'white too', have white, and their order 'GRB' has none"
    with pytest.raises(LayoutError, match=rf"{place}: {found}\n.*Write 'GRBW'"):
        layout_of(HOUSE.replace(old, new))


def test_a_draft_counts_white_too(layout_of):
    text = HOUSE.split("[[controller]]")[0] + WHITE
    layout = layout_of(text)
    assert (layout.patch.orders, layout.patch.channel_count) == (("RGBW",), 400)
    assert "No controllers yet: a draft, every pixel RGBW." in summary(layout)
    assert limits(layout).power.pixel.full_amperes == pytest.approx(0.055)  # 3 x 12, 18 and 1 mA idle
