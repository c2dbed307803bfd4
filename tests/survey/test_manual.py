"""docs/survey.md says what the models say."""

import re
import tomllib
from pathlib import Path

import pytest

from eavesong.survey.anchors import ANCHORS, MODELS
from eavesong.survey.model import Measure, Photo, Plane, Point, StraightLine, Survey

PAGE = (Path(__file__).parents[2] / "docs" / "survey.md").read_text("utf-8")


def test_the_example_is_a_survey():
    example = next(block for block in re.findall(r"```toml\n(.*?)```", PAGE, re.S) if "[[photo]]" in block)
    survey = Survey.model_validate(tomllib.loads(example))
    assert survey.prop[0].anchors() == ("eave left", "eave right")


@pytest.mark.parametrize("model", [Photo, Plane, Point, StraightLine, Measure])
def test_every_key_is_explained(model):
    for name, field in model.model_fields.items():
        assert f"`{field.alias or name}" in PAGE, name


def test_every_shape_is_explained_with_its_points():
    table = PAGE[PAGE.index("| shape | hangs on |") :].split("\n\n")[0]
    for shape, model in MODELS.items():
        (row,) = [row for row in table.splitlines() if f"`{shape}`" in row]
        for key in model.anchors_keys():
            alias = ANCHORS[key][1].alias or key
            assert f"`{alias}" in row, (shape, alias)


def test_the_pictures_are_there():
    for picture in re.findall(r"\((pictures/[^)]+)\)", PAGE):
        assert (Path(__file__).parents[2] / "docs" / picture).is_file()
