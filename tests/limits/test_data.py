"""Data lines against the datasheets' timing and the standards' sizes."""

import pytest

from eavesong.limits import Assumptions, limits
from eavesong.limits.data import E111_REFRESH, frame_microseconds, most_pixels, packet_bits


@pytest.mark.parametrize(
    ("pixels", "short", "long"),
    [(50, 645.2, 561.8), (170, 194.2, 185.9), (512, 64.9, 63.9), (680, 48.9, 48.4), (1024, 32.5, 32.3)],
)
def test_frames_a_second_of_a_chip_at_800_kbit(pixels, short, long):
    # WS2812B datasheet: 1.25 us a bit, 24 bits; reset 50 us (older sheets) or 280 us (WS2811 V1.4, WS2812B-V5).
    assert 1e6 / frame_microseconds(24 * pixels, 1.25, 50) == pytest.approx(short, abs=0.06)
    assert 1e6 / frame_microseconds(24 * pixels, 1.25, 280) == pytest.approx(long, abs=0.06)


def test_the_ws2811_sheet_reaches_1024_points_at_30_frames():
    # WS2811 datasheet: at 30 frames a second at least 512 points in slow (400 kbit/s) and 1024 in fast mode.
    assert most_pixels(30, 1.25, 50) >= 1024
    assert most_pixels(30, 2.5, 50) >= 512


@pytest.mark.parametrize(
    ("rate", "long", "short"),
    [(20, 1657, 1665), (25, 1324, 1331), (30, 1101, 1109), (40, 824, 831), (50, 657, 665), (60, 546, 553)],
)
def test_pixels_that_fit_on_an_output(rate, long, short):
    # floor((1/rate - reset) / 30 us) from the same datasheets.
    assert most_pixels(rate, 1.25, 280) == long
    assert most_pixels(rate, 1.25, 50) == short


def test_the_refresh_ceiling_of_a_full_universe():
    # ANSI E1.11: 250 kbit/s, 11 bits a slot, 513 slots, break 92 us, mark 12 us (equipment manuals): 44.10 Hz.
    assert pytest.approx(44.10, abs=0.005) == E111_REFRESH


def test_a_full_packet_on_the_wire():
    # ANSI E1.31-2018, table 4-1: 638 octets; IPv4 20, UDP 8, Ethernet 14 + 4, preamble 8 and gap 12 (IEEE 802.3).
    assert packet_bits() == 8 * (638 + 20 + 8 + 14 + 4 + 8 + 12)


def test_an_output_its_universes_and_its_room(house):
    text = """\
title = "Two universes"
[[prop]]
name = "grid"
shape = "grid"
columns = 20
rows = 10
width = 2
height = 1
[[controller]]
name = "box"
outputs = 4
frame_rate_limit = 30
[[controller.output]]
number = 2
null_pixels = 3
chain = ["grid"]
"""
    data = limits(house(text)).data
    (output,) = data.outputs
    assert (output.pixels, output.null_pixels, output.most_pixels) == (200, 3, 824)
    assert output.milliseconds == pytest.approx((203 * 30 + 280) / 1000)
    (box,) = data.controllers
    assert (box.universes, box.slots_used, box.slots_free) == (2, 609, 415)  # 203 pixels, dark ones too
    assert (box.outputs_used, box.outputs_free) == (1, 3)
    assert data.packets == 80
    assert data.megabits == pytest.approx(2 * 40 * packet_bits() / 1e6)
    assert not data.above_e111
    assert limits(house(text), None, Assumptions(frame_rate=50)).data.above_e111


def test_an_output_with_too_many_pixels_does_not_pass(house):
    def text(pixels):
        return f"""\
title = "Long"
[[prop]]
name = "line"
shape = "line"
to = [50, 0]
pixels = {pixels}
[[controller]]
name = "box"
[[controller.output]]
number = 1
chain = ["line"]
"""

    assert limits(house(text(824))).data.outputs[0].passes
    assert not limits(house(text(825))).data.outputs[0].passes


FAR = """\
title = "Far apart"
[[prop]]
name = "near"
shape = "spot"
at = [0, 0]
[[prop]]
name = "far"
shape = "spot"
at = [12, 0]
[[controller]]
name = "box"
{at}
[[controller.output]]
number = 1
chain = ["near", {link}]
"""


def far(house, link='"far"', at="", **stated):
    report = limits(house(FAR.format(link=link, at=at)), None, Assumptions(**stated))
    return report, [finding for finding in report.findings if "without a pixel" in finding.found]


def test_a_long_way_without_a_pixel_is_told_with_what_mends_it(house):
    report, (finding,) = far(house)
    # 12 m straight, 15 % of slack and 0.3 m of spare.
    assert "in 1 place, up to 14.1 m from 'near' to 'far'" in finding.found
    assert "null_pixels" in finding.instead
    assert "differential" in finding.instead
    assert finding.warning
    (extension,) = [part for part in report.parts if part.group == "extensions"]
    assert "2 dark pixels on the way" in extension.note  # 14.1 m in three pieces of 4.7 m


def test_dark_pixels_on_the_way_and_a_stated_length_mend_it(house):
    assert far(house, '{ prop = "far", null_pixels = 2 }')[1] == []
    assert far(house, '{ prop = "far", null_pixels = 1 }')[1] != []
    assert far(house, hop=14.2)[1] == []


def test_the_cable_from_a_controller_counts_where_it_says_where_it_hangs(house):
    report, (finding,) = far(house, '{ prop = "far", null_pixels = 2 }', at="at = [-7, 0]")
    assert "up to 8.3 m from 'box' to 'near'" in finding.found  # 7 m, 15 % and 0.3 m
    (lead,) = [part for part in report.parts if part.group == "data leads"]
    assert lead.count == 8.3 or lead.count == 8.4
    (unknown,) = [part for part in far(house)[0].parts if part.group == "data leads"]
    assert unknown.count is None
