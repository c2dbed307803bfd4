"""What changed between two houses, told in metres and in house coordinates."""

from collections.abc import Callable
from pathlib import Path

import pytest

from eavesong.layout import Layout, load_layout
from eavesong.retarget.changes import HouseChange, PropChange, compare_houses
from eavesong.retarget.text import grouped_changes

HOUSE = """
title = "House"
[frame]
from = [0, 0, 0]
to = [10, 5, 5]
[[prop]]
name = "eaves"
shape = "line"
at = [0, 3, 1]
to = [4, 0, 0]
pixels = 40
tags = ["eaves"]
[[prop]]
name = "panel"
shape = "grid"
at = [7, 1, 1]
columns = 6
rows = 4
width = 1.2
height = 0.8
tags = ["grid"]
[[controller]]
name = "box"
[[controller.output]]
number = 1
chain = ["eaves", "panel"]
"""


@pytest.fixture
def compare(tmp_path: Path) -> Callable[..., HouseChange]:
    """Compares the house with itself after parts of its text were replaced."""

    def load(name: str, text: str) -> Layout:
        path = tmp_path / name
        path.write_text(text)
        return load_layout(path)

    def compare(*replacements: tuple[str, str], extra: str = "") -> HouseChange:
        text = HOUSE
        for old, new in replacements:
            assert old in text
            text = text.replace(old, new, 1)
        return compare_houses(load("old.toml", HOUSE), load("new.toml", text + extra))

    return compare


def only(change: HouseChange) -> PropChange:
    (prop,) = change.changed
    return prop


def test_the_same_house_has_not_changed(compare: Callable) -> None:
    change = compare()
    assert change.changed == ()
    assert not change.frame_moved
    assert change.pin == ""
    assert len(change.props) == 2


def test_a_moved_prop(compare: Callable) -> None:
    prop = only(compare(("at = [0, 3, 1]", "at = [1, 3.5, 1]")))
    assert prop.kinds == ("moved",)
    assert prop.moved == (1, 0.5, 0)
    assert prop.shifted == (0.1, 0.1, 0)  # of a frame 10 m by 5 m
    assert prop.words == ("moved by (+1.00, +0.50, +0.00) m, (+0.100, +0.100, +0.000) of the house",)


@pytest.mark.parametrize(
    ("replaced", "kinds", "word"),
    [
        (("to = [4, 0, 0]", "to = [5, 0, 0]"), ("moved", "resized"), "to 4.88 × 0.00 × 0.00 m (5.00 m of wire)"),
        (("width = 1.2", "width = 1.8"), ("resized",), "resized from"),
        (("pixels = 40", "pixels = 80"), ("re-pixelled",), "40 pixels before, 80 now"),
        (("height = 0.8", "height = 0.8\nrotate = { y = 90 }"), ("turned",), "turned: "),
        (('tags = ["grid"]', 'tags = ["grid", "right"]'), ("retagged",), "tags +right"),
        (('tags = ["eaves"]', "tags = []"), ("retagged",), "tags -eaves"),
        (("number = 1", 'number = 1\norder = "GRB"'), ("rewired",), "RGB → GRB"),
        (("number = 1", "number = 1\nbrightness = 0.5"), ("rewired",), "brightness 1 gamma 1 → brightness 0.5 gamma 1"),
        (("number = 1", "number = 1\nuniverse = 7"), ("rewired",), "universe 1 slot 1 → box output 1, universe 7"),
        (('rows = 4', 'rows = 4\nstart = "top right"'), ("rewired",), "its pixels are wired in another order"),
        (('name = "box"', 'name = "shed"'), ("rewired",), "box output 1"),
        (('"eaves", "panel"', '{ prop = "eaves", reversed = true }, "panel"'), ("rewired",), "in at its last pixel"),
    ],
)  # fmt: skip
def test_one_kind_of_change(compare: Callable, replaced: tuple[str, str], kinds: tuple[str, ...], word: str) -> None:
    change = compare(replaced)
    first = change.changed[0]
    assert first.kinds == kinds
    assert word in "; ".join(first.words)


WINDOW = '[[prop]]\nname = "window"\nshape = "rectangle"\nat = [3, 1, 1]\nwidth = 1\nheight = 1.4\npixels = 61\n'
STAR = '[[prop]]\nname = "star"\nshape = "star"\nat = [3, 4, 1]\nouter = 0.5\ninner = 0.2\npixels = 61\n'


@pytest.mark.parametrize(
    ("prop", "more", "kind"),
    [
        (WINDOW, 'start = "top left"', "rewired"),  # 61 pixels are no whole number on each side
        (WINDOW, 'start = "bottom right"', "rewired"),
        (STAR, "rotate = { z = 36 }", "turned"),  # upside down, as wide and as high to a centimetre or two
        (STAR, "clockwise = false", "rewired"),
    ],
)
def test_a_prop_that_stays_where_it_is_and_is_wired_or_stands_otherwise(
    tmp_path: Path, prop: str, more: str, kind: str
) -> None:
    houses = []
    for name, text in (("old", prop), ("new", f"{prop}{more}\n")):
        (tmp_path / f"{name}.toml").write_text(HOUSE[: HOUSE.index("[[controller]]")] + text)
        houses.append(load_layout(tmp_path / f"{name}.toml"))
    assert kind in only(compare_houses(*houses)).kinds


def test_added_gone_and_renamed(compare: Callable) -> None:
    shed = '\n[[prop]]\nname = "shed"\nshape = "line"\nfrom = [8, 0, 0]\nto = [9, 0, 0]\npixels = 5\n'
    change = compare(('name = "panel"', 'name = "screen"'), ('"eaves", "panel"', '"eaves", "screen"'))
    assert (only(change).name, only(change).was, only(change).kinds) == ("screen", "panel", ("renamed",))
    draft = HOUSE[HOUSE.index("[[controller]]") :]
    change = compare((draft, shed))
    assert {prop.name: prop.kinds for prop in change.changed}["shed"] == ("added",)
    panel = HOUSE[HOUSE.index('[[prop]]\nname = "panel"') : HOUSE.index("[[controller]]")]
    change = compare((panel, ""), ('"eaves", "panel"', '"eaves"'))
    assert [(prop.name, prop.kinds) for prop in change.changed] == [("panel", ("gone",))]
    assert change.changed[0].words == ("gone, with 24 pixels",)


def test_a_moved_frame_says_how_to_pin_it(compare: Callable) -> None:
    change = compare(("to = [10, 5, 5]", "to = [12, 5, 5]"))
    assert change.frame_moved
    assert change.pin == "[frame]\nfrom = [0, 0, 0]\nto = [10, 5, 5]"
    # Nothing moved in metres, so no prop is told; all of them shift in house coordinates.
    assert change.changed == ()
    assert change.props[0].shifted == (pytest.approx(2 / 12 - 2 / 10, abs=1e-4), 0, 0)


def test_the_pin_is_in_the_units_of_the_new_file(compare: Callable) -> None:
    change = compare(
        ('title = "House"', 'title = "House"\nunits = "cm"'),
        ("from = [0, 0, 0]\nto = [10, 5, 5]", "from = [0, 0, 0]\nto = [1200, 500, 500]"),
    )
    assert "to = [1000, 500, 500]" in change.pin


def test_props_that_are_only_sent_elsewhere_are_told_as_one(compare: Callable) -> None:
    change = compare(("number = 1", "number = 1\nuniverse = 7"))
    assert [prop.only_sent_elsewhere for prop in change.changed] == [True, True]
    ((names, prop),) = grouped_changes(change)
    assert names == "eaves, panel"
    assert prop.words == ("rewired: 2 props are sent to other outputs, universes or slots, and no more",)


def test_what_is_said_of_several_props_counts_the_pixels_of_all():
    def prop(number: int, kind: str, words: str) -> PropChange:
        return PropChange(f"arch {number}", f"arch {number}", (kind,), (words,), pixels=60)

    still = ((0.0, 0.0, 0.0), (1.0, 1.0, 1.0))
    props = [prop(number, "gone", "gone, with 60 pixels") for number in (7, 8, 9, 10)]
    props += [prop(number, "re-pixelled", "50 pixels before, 60 now") for number in (1, 2)]
    props.append(prop(3, "gone", "gone, with 60 pixels"))
    house = HouseChange("House", "House", False, (still, still), "", tuple(props))
    assert [(names, *prop.words) for names, prop in grouped_changes(house)] == [
        ("arch 7 to arch 10", "gone, with 240 pixels"),
        ("arch 1 to arch 2", "50 pixels before, 60 now each"),
        ("arch 3", "gone, with 60 pixels"),
    ]


def test_a_prop_that_is_gone_is_told_with_its_pixels(compare: Callable) -> None:
    panel = HOUSE[HOUSE.index('[[prop]]\nname = "panel"') : HOUSE.index("[[controller]]")]
    gone = compare((panel, ""), (', "panel"', "")).props[-1]
    assert (gone.name, gone.pixels, gone.words) == ("panel", 6 * 4, ("gone, with 24 pixels",))


def test_another_order_of_colours_is_told_of_each_prop(compare: Callable) -> None:
    change = compare(("number = 1", 'number = 1\norder = "GRB"'))
    assert not any(prop.only_sent_elsewhere for prop in change.changed)
    assert all("RGB → GRB" in prop.words[0] for _, prop in grouped_changes(change))


def test_two_houses_of_one_title_are_told_apart_by_their_files():
    from dataclasses import replace

    from eavesong.layout import layout_from_points
    from eavesong.retarget.changes import compare_houses

    house = layout_from_points({"eaves": [[0, 0, 0], [9, 5, 0]]}, title="Larch")

    def called(*paths):
        change = compare_houses(*(replace(house, path=path) for path in paths))
        return change.old, change.new

    assert called("in/larch-2026.toml", "larch-2027.toml") == ("Larch (larch-2026.toml)", "Larch (larch-2027.toml)")
    assert called("2026/larch.toml", "2027/larch.toml") == ("Larch (2026/larch.toml)", "Larch (2027/larch.toml)")
    assert called("larch.toml", "larch.toml") == ("Larch", "Larch")
    assert called("", "") == ("Larch", "Larch")
