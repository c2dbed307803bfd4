"""What the people of a house wish: colours in place of others, props that stay dark."""

from pathlib import Path

import pytest

from eavesong.colours import parse_colour
from eavesong.errors import LayoutError
from eavesong.layout import Layout, load_layout
from eavesong.layout.summary import summary
from eavesong.layout.wishes import HouseWishes, wishes_in
from eavesong.palettes import BUILT_IN

PROPS = """
[[prop]]
name = "window"
shape = "line"
from = [0, 1]
to = [1, 1]
pixels = 4
tags = ["opening"]
repeat = { count = 2, step = [3, 0, 0] }
[[prop]]
name = "roof"
shape = "line"
from = [0, 3]
to = [4, 3]
pixels = 9
tags = ["roofline"]
"""


def house(tmp_path: Path, wishes: str) -> Layout:
    path = tmp_path / "house.toml"
    path.write_text(f'title = "House"\n{wishes}\n{PROPS}')
    return load_layout(path)


def test_a_palette_has_another_in_its_place_by_name_by_colour_or_by_colours(tmp_path: Path) -> None:
    lines = '[palettes]\nholly = "warm white"\nfrost = "gold"\n"our red" = ["red", "darkred"]\nember = "our red"'
    palettes = house(tmp_path, lines).palettes
    assert palettes["holly"] == tuple(map(parse_colour, BUILT_IN["warm white"]))
    assert palettes["frost"] == (parse_colour("gold"),)
    assert palettes["ember"] == palettes["our red"] == ((None, parse_colour("red")), (None, parse_colour("darkred")))


def test_what_takes_the_place_of_a_palette_is_not_replaced_again(tmp_path: Path) -> None:
    palettes = house(tmp_path, '[palettes]\nholly = "frost"\nfrost = "holly"').palettes
    assert palettes["holly"] == tuple(map(parse_colour, BUILT_IN["frost"]))
    assert palettes["frost"] == tuple(map(parse_colour, BUILT_IN["holly"]))


@pytest.mark.parametrize(
    ("wish", "unlit"),
    [
        ('unlit = ["opening"]', ["window 1", "window 2"]),
        ('unlit = "window"', ["window 1", "window 2"]),
        ('unlit = ["window 2", "roofline"]', ["window 2", "roof"]),
        ("", []),
    ],
)
def test_props_stay_dark_by_tag_by_row_and_by_name(tmp_path: Path, wish: str, unlit: list[str]) -> None:
    assert [prop.name for prop in house(tmp_path, wish).props if not prop.lit] == unlit


def test_all_that_is_wrong_is_told_at_once_with_its_line(tmp_path: Path) -> None:
    with pytest.raises(LayoutError) as raised:
        house(tmp_path, 'unlit = ["windo", "roof"]\n[palettes]\nholly = "warm wite"\nfrost = "sunset"')
    found = [(problem.place.split(",")[0], problem.found, problem.instead) for problem in raised.value.problems]
    assert found == [
        ("line 2", "no prop is called or tagged 'windo'", "Did you mean 'window'?"),
        ("line 4", "no palette is called 'warm wite'", "Did you mean 'warm white'?"),
        ("line 5", "no palette is called 'sunset'", "It is called 'evening sky' now."),
    ]


def test_colours_in_place_of_hues_are_told_where_they_are_none(tmp_path: Path) -> None:
    assert [*house(tmp_path, '[colours]\nred = "warm white"').colours] == ["red"]
    with pytest.raises(LayoutError) as raised:
        house(tmp_path, '[colours]\nredd = "blue"\nwhite = "gold"\n')
    found = [(problem.place.split(",")[0], problem.found) for problem in raised.value.problems]
    assert found == [
        ("line 3", "no colour is called 'redd'"), ("line 4", "'white' has no hue, so nothing is told by it")
    ]  # fmt: skip
    with pytest.raises(LayoutError, match="no colour is called 'bleu'"):
        house(tmp_path, '[colours]\nred = "bleu"\n')
    with pytest.raises(LayoutError, match=r"(?s)no table of colours.*\[colours\], and below it"):
        house(tmp_path, 'colours = "blue"')


def test_palettes_that_are_no_table_are_told_what_to_write(tmp_path: Path) -> None:
    with pytest.raises(LayoutError, match=r"(?s)no table of names.*\[palettes\], and below it"):
        house(tmp_path, 'palettes = "warm white"')


def test_wishes_of_a_text_that_cannot_be_read_are_none() -> None:
    assert wishes_in({"title": "House", "unlit": ["roof"]}).unlit == ("roof",)
    assert wishes_in({"palettes": {"holly": 3}}) == wishes_in({"palettes": {"holly": "no such"}}) == HouseWishes()


def test_a_house_dimmer_than_others_is_so_on_top_of_its_outputs(tmp_path: Path) -> None:
    box = '[[controller]]\nname = "box"\naddress = "192.0.2.1"\n[[controller.output]]\nnumber = 1\n'
    wired = f'{PROPS}{box}brightness = 0.5\nchain = ["window", {{ prop = "roof", brightness = 1 }}]\n'
    path = tmp_path / "house.toml"
    path.write_text(f'title = "House"\nbrightness = 0.4\n{wired}')
    patch = load_layout(path).patch
    assert patch.brightness.tolist() == pytest.approx(8 * [0.2] + 9 * [0.4])
    assert sorted({round(run.brightness, 6) for run in patch.runs}) == [0.2, 0.4]
    path.write_text(f'title = "House"\nbrightness = 0.4\n{PROPS}')
    assert load_layout(path).patch.brightness.tolist() == pytest.approx(17 * [0.4])
    assert "Dimmed to 40 % of its bytes at most." in summary(load_layout(path))


def test_no_red_is_answered_with_what_takes_its_place(tmp_path: Path) -> None:
    with pytest.raises(LayoutError, match=r"What is not wanted stands below \[colours\], with what is: red = "):
        house(tmp_path, '[palettes]\nall = "no red"\n')
