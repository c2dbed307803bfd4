"""Fall-backs: a show on houses its author never saw."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from eavesong.check import check
from eavesong.layout import Layout, layout_from_points, load_layout
from eavesong.music import BeatGrid
from eavesong.scene import PlacedCue, place_cues, set_scene
from eavesong.scene.roles import PARENTS, ROLE_OF_SHAPE, ZONE_OF, ZONES, roles_of, wider, zone_of
from eavesong.show import Show, load_show

Read = Callable[[str], Show]


def house_of(**tags: str) -> Layout:
    """Props of three pixels one above the other from the ground up, in the order given; tags parted by blanks."""
    levels = {name: [[x, level, 0] for x in (1, 2, 3)] for level, name in enumerate(tags)}
    return layout_from_points(levels, title="House", tags={name: words.split() for name, words in tags.items()})


def lit(layout: Layout, cue: PlacedCue) -> list[str]:
    return [layout.props[index].name for index in cue.props]


def placed(read: Read, grid: BeatGrid, layout: Layout, *on: str, more: str = "") -> tuple[PlacedCue, ...]:
    text = "\n".join(f"[[cue]]\neffect = 'glow'\non = {each}\n{more}" for each in on)
    return place_cues(read(text), layout, grid)


ROOF = {"path": "path", "door": "door", "gutter": "roofline", "top": "ridge roofline"}


@pytest.mark.parametrize(
    ("house", "on", "props", "taken"),
    [
        (ROOF, "'eaves'", ["gutter", "top"], "roofline instead of eaves"),
        (ROOF, "'icicles'", ["gutter", "top"], "roofline instead of icicles"),
        (ROOF, "'arch'", ["path"], "path instead of arch"),
        (ROOF, "'window'", ["door"], "opening instead of window"),  # what is beside it, before any part of the house
        (ROOF, "['ridge', 'eaves']", ["top"], "ridge"),  # what the cue itself lists comes first
        (ROOF, "'eaves or path'", ["path"], "eaves or path"),  # lights something as it stands
        (ROOF, "'eaves and not ridge'", ["gutter"], "roofline instead of eaves"),
        (ROOF, "'star'", ["gutter", "top"], "the upper part instead of star"),
        (ROOF, "'upper'", ["gutter", "top"], "the upper part"),
        (ROOF, "['star', 'ground']", ["path"], "the ground"),  # a part that is listed comes before one that stands in
        (ROOF, "['star or wreath', 'left or upper']", ["gutter", "top"], "the upper part"),
        ({"a": "path", "b": "path"}, "'ground and window'", ["a", "b"], "the whole house"),
        ({"a": "gable", "b": "eaves"}, "'arch and not gable'", ["b"], "the whole house but what it excludes"),
        ({"low": "arch", "high": "gable"}, "'path'", ["low"], "what is a kind of path instead of path"),
    ],
)  # fmt: skip
def test_the_nearest_that_is_there_is_lit(
    read: Read, grid: BeatGrid, house: Mapping[str, str], on: str, props: list[str], taken: str
) -> None:
    layout = house_of(**house)
    (cue,) = placed(read, grid, layout, on)
    assert lit(layout, cue) == props
    assert cue.taken.text == taken


@pytest.mark.parametrize(
    ("unlit", "props", "choice"),
    [((), ["door"], 1), (("door",), [], -1), (("gutter",), ["door"], 1)],
)
def test_a_part_of_the_house_that_is_wished_to_be_dark_is_not_replaced_by_the_whole_house(
    read: Read, grid: BeatGrid, unlit: tuple[str, ...], props: list[str], choice: int
) -> None:
    """Canes stand on the ground, where there is nothing but a door."""
    house = house_of(door="door", gutter="roofline")
    house = replace(house, props=tuple(replace(prop, lit=prop.name not in unlit) for prop in house.props))
    (cue,) = placed(read, grid, house, "'cane'")
    assert (lit(house, cue), cue.taken.choice) == (props, choice)


@pytest.mark.parametrize("on", ["['cane', 'star']", "['star', 'cane']", "'cane or star'"])
def test_where_one_stand_in_is_wished_to_be_dark_the_next_is_lit(read: Read, grid: BeatGrid, on: str) -> None:
    house = house_of(door="door", gutter="roofline")
    house = replace(house, props=tuple(replace(prop, lit=prop.name != "door") for prop in house.props))
    (cue,) = placed(read, grid, house, on)
    assert lit(house, cue) == ["gutter"]


def test_what_is_wished_to_be_dark_elsewhere_darkens_no_box(read: Read, grid: BeatGrid) -> None:
    house = house_of(door="door", gutter="roofline")
    house = replace(house, props=tuple(replace(prop, lit=prop.name != "door") for prop in house.props))
    (cue,) = placed(read, grid, house, "'cane'", more="within = { y = [0.5, 1] }\n")
    assert lit(house, cue) == ["gutter"]


def test_a_word_that_is_no_role_lights_nothing_where_roles_are_known(read: Read, grid: BeatGrid) -> None:
    (cue,) = placed(read, grid, house_of(**ROOF), "'balcony'")
    assert cue.props == ()
    assert cue.taken.choice == -1


def test_what_is_excluded_is_not_replaced(read: Read, grid: BeatGrid) -> None:
    layout = house_of(**ROOF)
    (cue,) = placed(read, grid, layout, "'not eaves'")
    assert lit(layout, cue) == ["path", "door", "gutter", "top"]


def test_nothing_stands_in_for_what_is_only_darkened(read: Read, grid: BeatGrid) -> None:
    layout = house_of(**ROOF)
    (black,) = placed(read, grid, layout, "'eaves'", more="blend = 'multiply'")
    assert (black.does, black.props, black.taken.choice) == ("darkens", (), -1)
    report = check(set_scene(read("[[cue]]\neffect = 'glow'\non = 'eaves'\nblend = 'multiply'"), layout, grid))
    (told,) = [each for each, weight in zip(report.findings, report.weights, strict=True) if weight == "odd"]
    assert "darkens nothing" in told.found


def test_a_box_holds_for_stand_ins_too(read: Read, grid: BeatGrid) -> None:
    layout = house_of(**ROOF)
    (cue,) = placed(read, grid, layout, "'eaves'", more="within = { x = [0, 0.4] }")
    assert cue.weight.sum() == 2  # one pixel of the gutter, one of the ridge
    (nothing,) = placed(read, grid, layout, "'eaves'", more="within = { x = [0.41, 0.42] }")
    assert nothing.props == ()


@pytest.mark.parametrize("tags", ["", "maison dach"])
def test_a_stranger_gets_a_show_that_uses_every_prop(read: Read, grid: BeatGrid, tags: str) -> None:
    layout = house_of(one=tags, two=tags, three=tags, four=tags, five=tags)
    cues = placed(read, grid, layout, "'star'", "'roofline'")
    assert cues[0].taken.text == "the upper part instead of star, and what no other cue lights"
    assert {index for cue in cues for index in cue.props} == {0, 1, 2, 3, 4}
    assert lit(layout, cues[1]) == ["three", "four", "five"]


def test_what_a_house_leaves_dark_on_purpose_stays_dark(read: Read, grid: BeatGrid) -> None:
    layout = house_of(tree="", shed="")  # no tags, but the show calls the prop by its name
    (cue,) = placed(read, grid, layout, "'tree'")
    assert lit(layout, cue) == ["tree"]


def test_untagged_props_are_known_by_name_and_by_shape(read: Read, grid: BeatGrid, tmp_path: Path) -> None:
    path = tmp_path / "untagged.toml"
    path.write_text(
        'title = "Untagged"\n'
        '[[prop]]\nname = "Left eaves"\nshape = "line"\nfrom = [0, 3, 0]\nto = [4, 3, 0]\npixels = 9\n'
        '[[prop]]\nname = "A"\nshape = "arch"\nwidth = 1\nheight = 1\npixels = 9\n'
        '[[prop]]\nname = "B"\nshape = "cone"\nheight = 2\nbase = 1\nstrings = 3\npixels = 9\n'
    )
    layout = load_layout(path)
    assert [sorted(roles_of(prop)) for prop in layout.props] == [["eaves"], ["arch"], ["tree"]]
    cues = placed(read, grid, layout, "'eaves'", "'arch'", "'tree'")
    assert [lit(layout, cue) for cue in cues] == [["Left eaves"], ["A"], ["B"]]


def test_the_street_show_lights_every_prop_of_a_house_without_tags(tmp_path: Path) -> None:
    import re

    from eavesong import demo
    from eavesong.files import shipped

    text = (shipped("layouts") / "bungalow.toml").read_text()
    house = tmp_path / "house.toml"
    house.write_text(re.sub(r"(?m)^tags = .*$", "", text))
    layout = load_layout(house)
    assert layout.tags() == ()
    show = load_show(Path(demo.__file__).parent / "street.show.toml")
    grid = _four_parts()
    cues = place_cues(show, layout, grid)
    assert all(cue.props for cue in cues)
    assert check(set_scene(show, layout, grid)).dark_props == ()


def _four_parts() -> BeatGrid:
    from eavesong.music import Section

    names = ("intro", "verse", "chorus", "bridge")
    parts = tuple(Section(4.0 * n, 4.0 * n + 4, name) for n, name in enumerate(names))
    return BeatGrid(tuple(n / 2 for n in range(32)), tuple(n % 4 + 1 for n in range(32)), parts, 16.0)


def test_a_stand_in_is_a_finding_with_the_tag_that_would_mend_it(read: Read, grid: BeatGrid) -> None:
    report = check(set_scene(read("[[cue]]\neffect = 'wash'\non = 'eaves'\n"), house_of(**ROOF), grid))
    finding = report.findings[report.weights.index("stand-in")]
    assert finding.place == "line 3, cue 1, on"
    assert finding.found == 'no prop here matches "eaves"; lit is roofline instead of eaves'
    assert finding.instead.startswith("Give the props that are meant the tag 'eaves'")
    assert report.cues[0].props == ("gutter", "top")


def test_every_role_ends_in_a_part_of_the_house() -> None:
    for role in PARENTS:
        chain = list(wider(role))
        assert len(chain) == len(set(chain)) < 5
        assert zone_of(role) in ZONES
    assert set(ZONE_OF) <= set(PARENTS)
    assert set(ROLE_OF_SHAPE.values()) <= set(PARENTS)
    assert all(0 <= low < high <= 1 for _, low, high in ZONES.values())


def test_the_parts_of_a_house_leave_no_gap() -> None:
    heights = np.linspace(0, 1, 101)
    covered = [any(low <= y <= high for axis, low, high in ZONES.values() if axis == "y") for y in heights]
    assert all(covered)
