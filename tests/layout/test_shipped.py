"""The layouts that come with eavesong: sizes, tags, and the house that changed."""

import re
from collections import Counter
from pathlib import Path

import numpy as np
import pytest

from eavesong.files import shipped
from eavesong.layout import Layout, load_layout

FILES = sorted(path.name for path in shipped("layouts").glob("*.toml"))
DOCS = Path(__file__).parents[2] / "docs" / "layout.md"


@pytest.fixture(scope="module")
def layouts() -> dict[str, Layout]:
    return {name: load_layout(shipped("layouts") / name) for name in FILES}


@pytest.mark.parametrize(
    ("name", "least", "most"),
    [("bungalow.toml", 600, 1000), ("two-storey-2026.toml", 3000, 5500), ("two-storey-2027.toml", 3000, 5500),
     ("estate.toml", 20_000, 40_000)],
)  # fmt: skip
def test_they_have_the_sizes_that_are_promised(layouts, name, least, most):
    assert least <= layouts[name].pixel_count <= most


@pytest.mark.parametrize("name", FILES)
def test_their_tags_are_the_ones_the_manual_lists(layouts, name):
    section = DOCS.read_text().split("## Tags that shows look for")[1].split("\n## ")[0]
    listed = set(re.findall(r"`([a-z-]+)`", section))
    assert set(layouts[name].tags()) <= listed
    assert all(prop.tags for prop in layouts[name].props)


@pytest.mark.parametrize("name", FILES)
def test_every_output_can_be_refreshed_40_times_a_second(layouts, name):
    # WS2811-type pixels: 30 us a pixel and 280 us of reset (data sheets): 824 pixels in 25 ms, null pixels too.
    pixels: Counter[tuple[str, int]] = Counter()
    for run in layouts[name].patch.runs:
        pixels[run.controller, run.output] += run.pixel_count
    assert max(pixels.values()) * 30e-6 + 280e-6 <= 1 / 40


def test_what_stayed_on_the_house_kept_its_coordinates(layouts):
    before, after = layouts["two-storey-2026.toml"], layouts["two-storey-2027.toml"]
    now = {prop.name: prop for prop in after.props}
    gone = [prop.name for prop in before.props if prop.name not in now]
    new = [name for name in now if name not in before.names()]
    assert gone == ["birch", "hedge"]
    assert new == ["dormer gable", "dormer window"]
    for prop in before.props:
        if prop.name in now:
            then, here = slice(prop.start, prop.stop), slice(now[prop.name].start, now[prop.name].stop)
            for key in ("x", "y", "z", "seed", "turn"):
                assert np.array_equal(getattr(before.pixels, key)[then], getattr(after.pixels, key)[here])
