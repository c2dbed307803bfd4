"""Hues between those that a house wishes, counted by hand."""

from collections.abc import Callable
from pathlib import Path

import pytest

from eavesong.check import check
from eavesong.check.between import between_drawn, between_in, faint_in
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


DIMMED = """
[[controller]]
name = "box"
address = "192.0.2.10"
[[controller.output]]
number = 1
chain = [{names}]
brightness = {brightness}
"""


@pytest.mark.parametrize(
    ("brightness", "wishes", "share"),
    [
        (0.3, 'all = "warm white"', 1.0),
        (0.9, 'all = "warm white"', 0.0),
        (1, 'all = "warm white"', 0.0),
        (0.3, "", 0.0),
    ],
)
def test_light_too_faint_for_the_colours_wished_is_told_of_a_dimmed_house(
    read: Callable[[str], Show],
    house_text: str,
    tmp_path: Path,
    grid: BeatGrid,
    brightness: float,
    wishes: str,
    share: float,
) -> None:
    """Three hundredths of 0.3 are 2.3 of 255, of 0.9 they are 6.9."""
    path = tmp_path / "house.toml"
    path.write_text(house_text)
    names = ", ".join(f'"{name}"' for name in dict.fromkeys(prop.member_of for prop in load_layout(path).props))
    box = DIMMED.format(names=names, brightness=brightness)
    path.write_text(f"{house_text}{box}" + (f"[palettes]\n{wishes}\n" if wishes else ""))
    scene = set_scene(read("[[cue]]\neffect = 'glow'\nopacity = 0.03\n"), load_layout(path), grid)
    frames = draw(scene).block(0, 80)
    seen = faint_in(scene, frames)
    assert (seen.share if seen else 0.0) == pytest.approx(share)
    told = [each.found for each in check(scene, frames=frames).findings if "so faint that" in each.found]
    assert len(told) == bool(share)
