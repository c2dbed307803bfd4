"""Cables along a string: between props, and inside one where its strands lie far apart."""

import numpy as np
import pytest

from eavesong.limits import Assumptions, limits, report_text
from eavesong.limits.cables import links_of

TREE = """\
title = "Tree"
[power]
pixel_type = "12 V, 18.5 mA"
[[prop]]
name = "tree"
shape = "grid"
columns = 8
rows = 60
width = 4
height = 6
wiring = "columns"
zigzag = {zigzag}
[[controller]]
name = "box"
[[controller.output]]
number = 1
chain = ["tree"]
[[pixel_type]]
name = "long"
volts = 12
amperes = [0.01, 0.01, 0.01]
spacing = 7
"""
"""8 strings half a metre apart with 60 pixels each, 10 cm apart: 5.9 m from the first to the last one."""
JUMP = float(np.hypot(0.5, 5.9))


def test_a_wire_back_to_the_next_string_is_a_cable(house):
    layout = house(TREE.format(zigzag="false"))
    metres, cable = links_of(layout, layout.power.strings[0].pixels, Assumptions(slack=0.2, spare=0.5))
    assert np.flatnonzero(cable).tolist() == [59, 119, 179, 239, 299, 359, 419]
    assert metres[cable] == pytest.approx(1.2 * JUMP + 0.5, rel=1e-5)
    assert metres[~cable] == pytest.approx(0.1, rel=1e-3)


def test_strings_wired_to_and_fro_have_none(house):
    layout = house(TREE.format(zigzag="true"))
    metres, cable = links_of(layout, layout.power.strings[0].pixels, Assumptions())
    assert not cable.any()
    assert metres.max() == pytest.approx(0.5, rel=1e-3)


def test_a_kind_whose_wire_reaches_has_none(house):
    layout = house(TREE.format(zigzag="false").replace("12 V, 18.5 mA", "long"))
    metres, cable = links_of(layout, layout.power.strings[0].pixels, Assumptions())
    assert not cable.any()
    assert metres == pytest.approx(7.0)


def test_data_and_parts_count_it_as_between_props(house):
    report = limits(house(TREE.format(zigzag="false")))
    (told,) = [finding for finding in report.findings if "without a pixel" in finding.found]
    assert "in 7 places, up to 7.1 m from 'tree' pixel 60 to pixel 61 (box, output 1)" in told.found
    assert "wire every second strand back ('zigzag')" in told.instead
    extensions = [part for part in report.parts if part.group == "extensions"]
    assert [part.count for part in extensions] == [7.1] * 7
    assert extensions[1].detail == "box, output 1: 'tree' pixel 120 to pixel 121"
    assert "without a pixel" not in report_text(limits(house(TREE.format(zigzag="true"))))


def test_a_gap_between_measured_places_is_a_cable(tmp_path, house):
    rows = [f"{x:.1f},2,0" for x in (*np.arange(10) / 10, *(9 + np.arange(10) / 10))]
    (tmp_path / "wall.csv").write_text("x,y,z\n" + "\n".join(rows) + "\n")
    head, tail = TREE.format(zigzag="true").split("[[prop]]")
    wall = '[[prop]]\nname = "tree"\nshape = "points"\nfile = "wall.csv"\n'
    report = limits(house(head + wall + "[[controller]]" + tail.split("[[controller]]", 1)[1]))
    (hop,) = report.data.hops
    assert (hop.way, hop.pieces) == ("'tree' pixel 10 to pixel 11", 1)
    assert hop.metres == pytest.approx(8.1 * 1.15 + 0.3, rel=1e-5)


def test_dark_pixels_between_two_links_of_one_prop_shorten_it(house):
    links = ", ".join(f'{{ prop = "tree", pixels = [{60 * n + 1}, {60 * n + 60}], null_pixels = 1 }}' for n in range(8))
    text = TREE.format(zigzag="false").replace('["tree"]', f"[{links}]")
    assert not [finding for finding in limits(house(text)).findings if "without a pixel" in finding.found]
