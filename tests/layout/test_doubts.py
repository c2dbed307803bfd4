"""What is odd in a layout is told, whatever can be made of it."""

from pathlib import Path

import pytest

from eavesong.layout import load_layout
from eavesong.layout.doubts import doubts
from eavesong.layout.summary import layout_data, summary

TREE = """
[[prop]]
name = "mega tree"
shape = "cone"
height = 3.6
base = 2.0
strings = 16
pixels = {pixels}
tags = ["{tag}"]
"""
LINE = """
[[prop]]
name = "{name}"
shape = "line"
to = [10, 0]
pixels = {pixels}
tags = ["{tag}"]
"""


def test_sixteen_strings_of_what_was_meant_for_all_are_doubted(layout_of) -> None:
    layout = layout_of(TREE.format(pixels=800, tag="tree"))
    (doubt,) = doubts(layout)
    assert "16 of 800 are 12,800" in doubt
    assert "did you mean 50 each?" in doubt
    assert doubt in " ".join(summary(layout).split())
    assert layout_data(layout)["doubts"] == [doubt]
    assert not doubts(layout_of(TREE.format(pixels=50, tag="tree")))


@pytest.mark.parametrize(("pixels", "odd"), [(1000, False), (1440, False), (4000, True)])
def test_strips_as_they_are_sold_are_not_doubted(layout_of, pixels: int, odd: bool) -> None:
    """60 and 144 pixels on a metre are sold for this (common practice); 400 are not."""
    assert bool(doubts(layout_of(LINE.format(name="eaves", pixels=pixels, tag="roofline")))) is odd


@pytest.mark.parametrize(
    ("pitch", "units", "odd"), [(2, "ft", True), (0.167, "ft", False), (1, "ft", False), (0.6, "m", False)]
)
def test_a_pitch_in_inches_in_a_house_in_feet_is_doubted(tmp_path: Path, pitch: float, units: str, odd: bool) -> None:
    """Two inches are the twelfth part of two feet; a lamp every foot there may be."""
    path = tmp_path / "house.toml"
    line = f'[[prop]]\nname = "eaves"\nshape = "line"\nfrom = [0, 9]\nto = [26, 9]\npitch = {pitch}\n'
    path.write_text(f'title = "A"\nunits = "{units}"\n{line}')
    told = [doubt for doubt in doubts(load_layout(path)) if "'pitch' is in feet, too: 2 in are 0.167." in doubt]
    assert bool(told) is odd


def test_a_tag_that_nothing_knows_and_is_near_a_known_one_is_doubted(layout_of) -> None:
    layout = layout_of(TREE.format(pixels=50, tag="tre"))
    (doubt,) = doubts(layout, {"tree", "star"})
    assert "the tag 'tre' of 'mega tree'. Did you mean 'tree'?" in doubt
    assert not doubts(layout)  # nothing to compare with
    assert not doubts(layout_of(TREE.format(pixels=50, tag="heirloom")), {"tree", "star"})


def test_tags_that_others_carry_and_numbers_are_no_slips(layout_of) -> None:
    rows = [("a", "bay-1"), ("b", "bay-2"), ("c", "birch"), ("d", "birch")]
    lines = (LINE.format(name=name, pixels=100, tag=tag) for name, tag in rows)
    text = "".join(line.replace("10, 0", f"10, {number}") for number, line in enumerate(lines))
    assert not doubts(layout_of(text))
    (doubt,) = doubts(layout_of(text + LINE.format(name="e", pixels=90, tag="birhc")))
    assert "'birhc' of 'e'. Did you mean 'birch'?" in doubt


def test_a_photo_that_is_not_there_is_told(tmp_path: Path) -> None:
    path = tmp_path / "house.toml"
    path.write_text('title = "A"\nphoto = "house.jpg"\n' + LINE.format(name="eaves", pixels=100, tag="eaves"))
    (doubt,) = doubts(load_layout(path))
    assert "photo 'house.jpg' is not there" in doubt


def test_a_photo_of_which_nobody_knows_where_the_house_is_in_it_is_told(tmp_path: Path) -> None:
    (tmp_path / "house.jpg").write_bytes(b"")
    path = tmp_path / "house.toml"
    line = LINE.format(name="eaves", pixels=100, tag="eaves")
    path.write_text('title = "A"\nphoto = "house.jpg"\n' + line)
    (doubt,) = doubts(load_layout(path))
    assert "Name four corners under [photo]" in doubt
    path.write_text('title = "A"\nphoto = { file = "house.jpg", from = [0, 0, 0], to = [6, 4, 0] }\n' + line)
    assert not doubts(load_layout(path))
    (tmp_path / "house.jpg").write_bytes(b"")
    assert not doubts(load_layout(path))


@pytest.mark.parametrize(
    ("colours", "told"),
    [
        ('"green"', "gives 22 % of full light at most"),
        ('"lime"', ""),
        ('["navy", "white"]', "much of what is lit is a pastel of it"),
        ('"holly"', ""),  # its green is dark, and its red is not
    ],
)
def test_dark_colours_and_whites_in_place_of_all_palettes_are_doubted(tmp_path: Path, colours: str, told: str) -> None:
    path = tmp_path / "house.toml"
    prop = LINE.format(name="eaves", pixels=100, tag="roofline")
    path.write_text(f'title = "A"\n{prop}[palettes]\nall = {colours}\n')
    found = [each for each in doubts(load_layout(path)) if "full light" in each or "pastel" in each]
    assert len(found) == bool(told)
    assert not told or told in found[0]


def test_several_hues_in_place_of_all_palettes_are_doubted(tmp_path: Path) -> None:
    path = tmp_path / "house.toml"
    for colours, count in (('["#ffb46b", "green"]', 1), ('["#ffb46b", "white"]', 0)):
        prop = LINE.format(name="eaves", pixels=100, tag="roofline")
        path.write_text(f'title = "A"\n{prop}[palettes]\nall = {colours}\n')
        told = doubts(load_layout(path))
        assert sum("[palettes] wishes several hues" in each for each in told) == count


def test_colours_in_place_of_a_tag_are_doubted(tmp_path: Path) -> None:
    """A house replaces palettes; a prop's own colours are a cue's matter. A palette that comes with eavesong is one."""
    path = tmp_path / "house.toml"
    for tag, wished, count in (("roofline", "roofline", 1), ("roofline", "holly", 0), ("holly", "holly", 0)):
        line = LINE.format(name="eaves", pixels=100, tag=tag)
        path.write_text(f'title = "A"\n{line}[palettes]\n{wished} = "gold"\n')
        assert (
            sum("a cue on 'roofline' gives it colours of its own" in each for each in doubts(load_layout(path)))
            == count
        )


def test_a_house_that_shows_what_it_does_not_want_is_doubted(tmp_path: Path) -> None:
    path = tmp_path / "house.toml"
    line = LINE.format(name="eaves", pixels=100, tag="roofline")
    for shown, count in (('["red", "gold"]', 1), ('"gold"', 0)):
        path.write_text(f'title = "A"\n{line}[palettes]\nall = {shown}\n[colours]\nred = "blue"\n')
        assert sum("[palettes] shows #ff0000 in place of all" in each for each in doubts(load_layout(path))) == count


def test_a_prop_that_was_copied_and_left_in_its_place_is_doubted(layout_of) -> None:
    first, second = (LINE.format(name=name, pixels=100, tag="roofline") for name in ("eaves", "ridge"))
    (doubt,) = doubts(layout_of(first + second))
    assert doubt == "'ridge' hangs exactly where 'eaves' does. Was its place left as it was copied?"
    assert not doubts(layout_of(first + second.replace("10, 0", "10, 1")))
    backwards = second.replace("to = [10, 0]", "from = [10, 0]\nto = [0, 0]")
    assert len(doubts(layout_of(first + backwards))) == 1


def test_two_boxes_of_one_address_are_doubted(layout_of) -> None:
    house = LINE.format(name="eaves", pixels=100, tag="roofline") + LINE.format(
        name="ridge", pixels=100, tag="roofline"
    ).replace("10, 0", "10, 2")
    for address, count in (("192.168.1.60", 1), ("192.168.1.61", 0)):
        boxes = "".join(
            f'[[controller]]\nname = "{name}"\naddress = "{at}"\n'
            f'[[controller.output]]\nnumber = 1\nchain = ["{prop}"]\n'
            for name, at, prop in (("left", "192.168.1.60", "eaves"), ("right", address, "ridge"))
        )
        told = doubts(layout_of(house + boxes))
        assert [each for each in told if "one address, 192.168.1.60" in each] == list(told)
        assert len(told) == count


@pytest.mark.parametrize(
    ("place", "odd"),
    [
        ("[4.5, 0, 2]", ""), ("[45, 0, 2]", "34.1 m away from all else, which is 9.8 m wide"), ("[4, 0, 12]", ""),
        ("[4.5, 14, 0]", "10.0 m away from all else, which is 4.0 m high"), ("[4, 0, 40]", "away from all else"),
        ("[-2, 0, 0]", ""), ("[4, 6, 0]", ""),
    ],
)  # fmt: skip
def test_a_prop_far_from_all_others_is_doubted(layout_of, place: str, odd: str) -> None:
    """A yard reaches far towards the street, and a star stands above its roof; a tree 45 m away has lost a point."""
    lines = "".join(LINE.format(name=f"line {n}", pixels=50, tag="roofline") + f"at = [0, {n}, 0]\n" for n in range(5))
    told = doubts(layout_of(lines + TREE.format(pixels=50, tag="tree") + f"at = {place}\n"))
    assert len(told) == bool(odd)
    if odd:
        assert odd in told[0]
        assert told[0].endswith(f"Is a decimal point missing in at = {place}?")


@pytest.mark.parametrize(
    ("ends", "odd"),
    [
        ("from = [5.2, 4.8]\nto = [10, 4.8]", ""), ("from = [52, 4.8]\nto = [10, 4.8]", "41.7 m beyond all else"),
        ("from = [5, 0.2, 0]\nto = [5, 0.2, 20]", ""), ("from = [5, 0.2]\nto = [24, 0.2]", ""),
        ("from = [5, 0.2]\nto = [5, 14]", ""),
        ("from = [5, 0.2]\nto = [5, 30]", "25.7 m beyond all else, which is 4.0 m high"),
    ],
)  # fmt: skip
def test_a_prop_one_end_of_which_lies_far_beyond_all_others_is_doubted(layout_of, ends: str, odd: str) -> None:
    """A path is long, and a fence: twice the house. 52 m of eaves on a house 10 m wide were 5.2."""
    lines = "".join(LINE.format(name=f"line {n}", pixels=50, tag="roofline") + f"at = [0, {n}, 0]\n" for n in range(5))
    last = f'[[prop]]\nname = "last"\nshape = "line"\n{ends}\npixels = 50\n'
    told = doubts(layout_of(lines + last))
    assert len(told) == bool(odd)
    if odd:
        assert odd in told[0]
        assert told[0].endswith("Is a decimal point missing in " + ends.replace("\n", ", ") + "?")


@pytest.mark.parametrize(("height", "odd"), [(-5.9, True), (-0.5, False), (5.9, False)])
def test_a_prop_below_all_others_with_a_minus_is_doubted(layout_of, height: float, odd: bool) -> None:
    """Light wells lie half a metre below; a star hangs 5.9 m up."""
    lines = "".join(LINE.format(name=f"line {n}", pixels=50, tag="roofline") + f"at = [0, {n}, 0]\n" for n in range(5))
    star = f'[[prop]]\nname = "star"\nshape = "spot"\nat = [4, {height}, 0]\n'
    told = [each for each in doubts(layout_of(lines + star)) if "below all else" in each]
    assert len(told) == odd
    assert not odd or told[0].endswith("Heights are upwards: is it 5.9 in place of -5.9?")


@pytest.mark.parametrize(("columns", "rows", "odd"), [(3, 20, True), (20, 3, False), (20, 20, False), (3, 3, False)])
def test_a_grid_whose_columns_and_rows_were_exchanged_is_doubted(layout_of, columns: int, rows: int, odd: bool) -> None:
    """A hedge of 2 m by half a metre: 20 columns and 3 rows of it lie some 10 and 25 cm apart."""
    grid = f'[[prop]]\nname = "hedge"\nshape = "grid"\nwidth = 2\nheight = 0.5\ncolumns = {columns}\nrows = {rows}\n'
    told = [each for each in doubts(layout_of(grid)) if "the columns of" in each.lower()]
    assert len(told) == odd
    assert not odd or told[0].endswith("Are there 20 columns and 3 rows?")


@pytest.mark.parametrize(("pitch", "odd"), [(0.2, False), (0.6, False), (1, True)])
def test_a_pitch_of_ten_times_that_of_all_others_is_doubted(layout_of, pitch: float, odd: bool) -> None:
    """Lamps of a festoon hang 60 cm apart beside strips of 10 cm; a metre is a point too few."""
    lines = "".join(LINE.format(name=f"line {n}", pixels=100, tag="roofline") + f"at = [0, {n}, 0]\n" for n in range(3))
    gable = f'[[prop]]\nname = "gable"\nshape = "line"\nfrom = [0, 4]\nto = [8, 4]\npitch = {pitch}\n'
    told = doubts(layout_of(lines + gable))
    assert len(told) == odd
    if odd:
        assert told[0].startswith("The pixels of 'gable' are 1.0 m apart, those of most props 0.1 m.")
        assert "Is a decimal point missing in pitch = 1? Else say how many there are" in told[0]


def test_the_usual_pitch_is_told_to_the_centimetre(layout_of) -> None:
    lines = "".join(LINE.format(name=f"line {n}", pixels=200, tag="roofline") + f"at = [0, {n}, 0]\n" for n in range(3))
    gable = '[[prop]]\nname = "gable"\nshape = "line"\nfrom = [0, 4]\nto = [8, 4]\npitch = 0.5\n'
    assert any("those of most props 0.05 m." in told for told in doubts(layout_of(lines + gable)))


KIND = '[power]\npixel_type = "own"\n[[pixel_type]]\nname = "own"\nvolts = 12\namperes = [0.01, 0.01, 0.01]\n'


@pytest.mark.parametrize(("spacing", "odd"), [(0.05, True), (0.098, False), (0.1, False), (0.15, False)])
def test_strings_that_are_too_short_for_their_places_are_doubted(layout_of, spacing: float, odd: bool) -> None:
    """100 pixels on 10 m are 10 cm apart; longer strings hang through, and pitches are rounded."""
    told = doubts(layout_of(LINE.format(name="eaves", pixels=100, tag="eaves") + KIND + f"spacing = {spacing}\n"))
    assert len(told) == odd
    if odd:
        found = "The pixels of 'eaves' are 0.1 m apart, and strings of 'own' have 0.05 m of wire ('spacing')."
        assert told[0].startswith(found)
