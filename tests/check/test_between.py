"""Hues between those that a house wishes, counted by hand."""

from collections.abc import Callable
from pathlib import Path

import pytest

from eavesong.check import check
from eavesong.check.between import between_drawn, between_in
from eavesong.engines import draw
from eavesong.layout import load_layout
from eavesong.music import BeatGrid
from eavesong.scene import set_scene
from eavesong.show import Show

ADDED = """
[[cue]]
effect = "glow"
parameters = { tint = "red" }
[[cue]]
effect = "glow"
parameters = { tint = "lime" }
on = "path"
blend = "plus-lighter"
"""


@pytest.mark.parametrize(
    ("wishes", "share"),
    [
        ('all = ["red", "lime"]', 60 / 300),  # red and green light make yellow on the three arches
        ('all = ["red", "gold"]', 0.0),  # as much of a hue as yellow, but not between these
        ('all = "red"', 0.0),
        ('holly = ["red", "lime"]', 0.0),
        ('all = "red"\nholly = "lime"', 0.0),  # no cue asks for holly
    ],
)
def test_what_adds_up_to_a_third_hue_is_counted(
    read: Callable[[str], Show], house_text: str, tmp_path: Path, grid: BeatGrid, wishes: str, share: float
) -> None:
    path = tmp_path / "house.toml"
    path.write_text(f"{house_text}\n[palettes]\n{wishes}\n")
    scene = set_scene(read(ADDED), load_layout(path), grid)
    frames = draw(scene).block(0, 80)
    for seen in (between_drawn(scene), between_in(scene, frames)):
        if not share:
            assert seen is None
            continue
        assert seen is not None
        assert (seen.share, seen.colour) == (pytest.approx(share), "#ffff00")
        assert seen.prop.startswith("arch")
    told = [each for each in check(scene, drawn=True).findings if "hue between" in each.found]
    assert len(told) == bool(share)
    assert not share or told[0].found.startswith("20 % of what is lit shows a hue between #ff0000 and #00ff00")


@pytest.mark.parametrize(
    ("wishes", "still"), [('yellow = "blue"', True), ('red = "blue"', False), ('yellow = "gold"', False)]
)
def test_a_hue_that_is_not_wanted_and_comes_all_the_same_is_told(
    read: Callable[[str], Show], house_text: str, tmp_path: Path, grid: BeatGrid, wishes: str, still: bool
) -> None:
    """Yellow is in no palette here: red and green light add up to it. Gold is nearly yellow, and wished."""
    path = tmp_path / "house.toml"
    path.write_text(f"{house_text}\n[colours]\n{wishes}\n")
    report = check(set_scene(read(ADDED), load_layout(path), grid), drawn=True)
    told = [each.found for each in report.findings if "of what is lit is still" in each.found]
    assert len(told) == still
    assert not still or told[0].startswith("20 % of what is lit is still yellow, such as #ffff00 at")
