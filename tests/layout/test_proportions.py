"""Sizes that such things hardly have are told; what such things measure is common practice."""

from pathlib import Path

import pytest

from eavesong.layout import load_layout
from eavesong.layout.proportions import odd_sizes
from eavesong.layout.summary import summary

HOUSE = """
units = "{units}"
[[prop]]
name = "eaves"
shape = "line"
from = [0, {eaves}]
to = [{wide}, {eaves}]
pixels = 100
[[prop]]
name = "front door"
shape = "rectangle"
at = [{x}, 0]
width = {door_wide}
height = {door}
pixels = 60
[[prop]]
name = "window"
shape = "rectangle"
at = [{x}, {sill}]
width = {window}
height = {window}
pixels = 50
[[prop]]
name = "oak"
shape = "cone"
height = {tree}
base = {base}
strings = 8
pixels = 20
"""
METRES = {"eaves": 5, "wide": 12, "x": 4, "door_wide": 0.9, "door": 2.1, "sill": 3, "window": 1.2, "tree": 3, "base": 2}
FEET = {"eaves": 16, "wide": 40, "x": 12, "door_wide": 3, "door": 7, "sill": 9, "window": 4, "tree": 10, "base": 6}


@pytest.mark.parametrize(("units", "sizes"), [("m", METRES), ("ft", FEET)])
def test_of_a_usual_house_nothing_is_said(layout_of, units: str, sizes: dict[str, float]) -> None:
    assert not list(odd_sizes(layout_of(HOUSE.format(units=units, **sizes))))


@pytest.mark.parametrize("path", sorted(Path("layouts").glob("*.toml")), ids=lambda path: path.stem)
def test_nor_of_the_houses_that_come_with_eavesong(path: Path) -> None:
    assert not list(odd_sizes(load_layout(path)))


@pytest.mark.parametrize(("units", "sizes", "meant"), [("ft", METRES, "metres"), ("m", FEET, "feet")])
def test_metres_written_as_feet_and_feet_as_metres_are_told_once(
    layout_of, units: str, sizes: dict[str, float], meant: str
) -> None:
    layout = layout_of(HOUSE.format(units=units, **sizes))
    ((entry, found, advice),) = odd_sizes(layout)
    assert not entry
    assert found.startswith("props are of heights that such things hardly have: 'front door' ")
    assert advice.startswith(f"Are the lengths in {meant}? Then write units = ")
    assert advice in " ".join(summary(layout).split())


def test_a_tree_of_72_feet_across_is_told_with_its_line_and_the_likely_unit(layout_of) -> None:
    layout = layout_of(HOUSE.format(units="ft", **FEET | {"tree": 100, "base": 72}))
    ((entry, found, advice),) = odd_sizes(layout)
    assert entry == "oak"
    assert found == "'oak' is 72 ft wide and 100 ft high; a tree is hardly over 29 ft 6 in wide"
    assert advice == "Check height = 100: is it in centimetres or inches? The file is in feet."


def test_a_tree_much_wider_than_high_is_told(layout_of) -> None:
    layout = layout_of(HOUSE.format(units="m", **METRES | {"tree": 2, "base": 6}))
    ((entry, found, _),) = odd_sizes(layout)
    assert (entry, found.endswith("a tree is hardly wider than high")) == ("oak", True)


def test_what_is_turned_on_its_side_is_not_measured(layout_of) -> None:
    text = HOUSE.format(units="m", **METRES)
    lying = text.replace('name = "oak"', 'name = "oak"\nrotate = { z = 90 }').replace("base = 2", "base = 8")
    assert not list(odd_sizes(layout_of(lying)))


BALL = """
[[prop]]
name = "{}"
shape = "sphere"
at = [0, 0.5, 1]
diameter = {}
pixels = 60
rings = 6
"""


@pytest.mark.parametrize(("name", "diameter", "odd"), [("bush 1", 0.9, 0), ("bush 1", 0.09, 1), ("bauble", 0.09, 0)])
def test_a_bush_is_larger_than_a_bauble(layout_of, name: str, diameter: float, odd: int) -> None:
    told = [found for _, found, _ in odd_sizes(layout_of(BALL.format(name, diameter)))]
    assert sum("a bush is hardly under 0.2 m wide" in each for each in told) == odd
