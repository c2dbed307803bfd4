"""The manual and the schema say what the models accept."""

import re
from pathlib import Path

import pytest

from eavesong.layout import layout_schema

MANUAL = (Path(__file__).parents[2] / "docs" / "layout.md").read_text()
MODELS = layout_schema()["$defs"]
SHAPES = {model["properties"]["shape"]["const"]: model for model in MODELS.values() if "shape" in model["properties"]}
EVERYWHERE = {"name", "shape", "at", "rotate", "tags", "repeat", "mirror", "pixels", "pitch"}


def test_the_first_example_of_the_manual_is_a_layout(layout_of):
    example = re.search(r"```toml\n(.*?)```", MANUAL, re.DOTALL)
    assert layout_of(example[1]).pixel_count == 160


@pytest.mark.parametrize("shape", SHAPES)
def test_the_manual_names_every_key_of_every_shape(shape):
    row = next(line for line in MANUAL.splitlines() if line.startswith(f"| `{shape}` |"))
    keys = set(SHAPES[shape]["properties"]) - EVERYWHERE
    assert keys <= set(re.findall(r"`(\w+)", row))


@pytest.mark.parametrize("table", ["ControllerEntry", "Output", "ChainLink", "House"])
def test_the_manual_names_every_other_key(table):
    model = layout_schema() if table == "House" else MODELS[table]
    keys = set(model["properties"]) - {"output", "prop", "controller", "frame"}
    assert keys <= set(re.findall(r"`(\w+)", MANUAL))


@pytest.mark.parametrize("model", MODELS)
def test_the_schema_describes_every_key(model):
    sizes = {"width", "height", "diameter", "x", "y", "z"}
    bare = [key for key, about in MODELS[model]["properties"].items() if not about.get("description")]
    assert set(bare) <= sizes | {"name", "protocol", "shape", "rotate", "repeat", "mirror"}
