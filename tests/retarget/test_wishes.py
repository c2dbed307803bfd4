"""Wishes that a new layout file has forgotten."""

from dataclasses import replace
from pathlib import Path

import pytest

from eavesong.layout import Layout, load_layout
from eavesong.retarget.wishes import forgotten

HOUSE = """
title = "House"
{unlit}
[[prop]]
name = "eaves"
shape = "line"
to = [10, 0]
pixels = 100
tags = ["roofline"]
[[controller]]
name = "box"
[[controller.output]]
number = 1
{drive}
chain = ["eaves"]
{palettes}
"""


@pytest.fixture
def house(tmp_path: Path):
    """Makes a house with these wishes."""

    def make(unlit: str = "", drive: str = "", palettes: str = "") -> Layout:
        (tmp_path / "house.toml").write_text(HOUSE.format(unlit=unlit, drive=drive, palettes=palettes))
        return load_layout(tmp_path / "house.toml")

    return make


CASES = pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ({"drive": "brightness = 0.4"}, {}, ["brightness 0.4 at most on every output (it is 1 now)"]),
        ({"drive": "brightness = 0.4"}, {"drive": "brightness = 0.3"}, []),
        ({"unlit": "brightness = 0.6"}, {"unlit": "brightness = 0.6"}, []),  # single precision has a hair more
        ({"unlit": "brightness = 0.6"}, {}, ["brightness 0.6 at most on every output (it is 1 now)"]),
        ({"unlit": "brightness = 0.6"}, {"unlit": "brightness = 0.8"}, []),  # it was thought of
        (
            {"unlit": "brightness = 0.6"},
            {"drive": "brightness = 0.9"},
            ["brightness 0.6 at most on every output (it is 0.9 now)"],
        ),
        ({"palettes": '[palettes]\nall = "gold"'}, {}, ["colours of its own in place of all ([palettes])"]),
        ({"palettes": '[palettes]\nall = "gold"'}, {"palettes": '[palettes]\nall = "red"'}, []),
        ({"palettes": '[colours]\nred = "gold"'}, {}, ["colours of its own in place of what is red ([colours])"]),
        ({"unlit": 'unlit = "roofline"'}, {}, ["roofline 'unlit'"]),
        ({"unlit": 'unlit = "roofline"'}, {"unlit": 'unlit = "eaves"'}, []),  # as dark as before
        ({}, {"drive": "brightness = 0.4"}, []),
    ],
)


def test_what_was_to_stay_dark_and_is_gone_is_not_forgotten(house) -> None:
    before = house(unlit='unlit = "eaves"')
    after = house()
    (prop,) = after.props
    assert list(forgotten(before, after)) == ["eaves 'unlit'"]
    assert list(forgotten(before, replace(after, props=(replace(prop, name="gable", member_of="gable"),)))) == []


@CASES
def test_what_was_wished_and_is_not_any_more_is_told(house, old, new, told) -> None:
    before = house(**old)
    assert list(forgotten(before, house(**new))) == told
