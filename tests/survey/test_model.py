"""Entries of a survey, one at a time."""

from typing import Any

import pytest
from pydantic import ValidationError

from eavesong.survey.model import Measure, Photo, Plane, Point, StraightLine


@pytest.mark.parametrize(
    ("table", "found"),
    [
        ({"name": "left"}, "does not say how the plane lies"),
        ({"name": "left", "turned": 20.0, "parallel": "front"}, "both 'parallel' and 'turned' are given"),
        ({"name": "front", "turned": 20.0}, "the front is where everything is measured from"),
        ({"name": "left", "turned": 20.0, "pitch": 30.0}, "'pitch' is of use only with 'roof_over'"),
        ({"name": "left", "turned": 20.0, "level": False}, "only the ground is level"),
        ({"name": "roof", "roof_over": "front", "pitch": 90.0}, "less than 90"),
    ],
)
def test_a_plane_lies_in_one_way(table: dict[str, Any], found: str) -> None:
    with pytest.raises(ValidationError, match=found):
        Plane.model_validate(table)


def test_the_ground_may_slope_and_an_angle_may_be_unknown() -> None:
    assert not Plane.model_validate({"name": "ground", "level": False}).level
    assert Plane.model_validate({"name": "side", "turned": "unknown"}).turned == "unknown"


@pytest.mark.parametrize(
    ("table", "found"),
    [
        ({"points": ["a", "b"]}, "two points are always on a line"),
        ({"points": ["a", "b", "a"]}, "a point stands here twice"),
        ({"points": ["a"], "runs": "level"}, "at least 2"),
    ],
)
def test_a_line_says_something(table: dict[str, Any], found: str) -> None:
    with pytest.raises(ValidationError, match=found):
        StraightLine.model_validate(table)


def test_one_plane_needs_no_brackets_and_a_point_may_be_in_several_photos() -> None:
    point = Point.model_validate({"name": "corner", "on": "front", "at": {"left": [1.0, 2.0], "right": [3.0, 4.0]}})
    assert point.on == ("front",)
    assert point.at == {"left": (1.0, 2.0), "right": (3.0, 4.0)}


def test_paths_stay_beside_the_survey_and_lengths_are_read_with_their_units() -> None:
    with pytest.raises(ValidationError, match="leads out of the"):
        Photo.model_validate({"file": "../house.jpg"})
    assert Measure.model_validate({"from": "a", "to": "b", "length": "3.2 m"}).start == "a"
