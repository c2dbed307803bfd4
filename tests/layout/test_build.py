"""Repeating, mirroring, placing, and what only shows when props meet."""

import numpy as np
import pytest

from eavesong import words
from eavesong.errors import LayoutError

HOUSE = """
units = "{units}"
[[prop]]
name = "eaves"
shape = "line"
from = [{a}, {b}]
to = [{c}, {b}, {d}]
pixels = 40
[[prop]]
name = "arch"
shape = "arch"
at = [{d}, 0, {a}]
width = {d}
height = {b}
pixels = 17
rotate = {{ y = 30 }}
"""
METRES = {"a": 1.2, "b": 2.7, "c": 9.3, "d": 1.8}


@pytest.mark.parametrize(
    ("units", "in_a_metre"),
    # International yard and pound agreement, 1959: 1 yd = 0.9144 m, so 1 ft = 0.3048 m and 1 in = 25.4 mm exactly.
    [("m", 1), ("cm", 100), ("mm", 1000), ("ft", 1 / 0.3048), ("in", 1000 / 25.4)],
)
def test_a_house_has_the_same_coordinates_in_any_unit(layout_of, units, in_a_metre):
    metres = layout_of(HOUSE.format(units="m", **METRES)).pixels
    other = layout_of(HOUSE.format(units=units, **{key: size * in_a_metre for key, size in METRES.items()})).pixels
    for name in ("x", "y", "z", "X", "Y", "Z", "along", "turn", "px", "centre_x"):
        assert getattr(other, name) == pytest.approx(getattr(metres, name), abs=1e-6), name
    assert (other.seed == metres.seed).all()


def test_an_inch_is_25_4_millimetres(layout_of):
    layout = layout_of('units = "in"\n[[prop]]\nname = "a"\nshape = "line"\nto = [1, 0]\npixels = 1')
    assert layout.props[0].length == pytest.approx(0.0254, rel=1e-12)


@pytest.mark.parametrize("shape", ["arch", "ring"])
@pytest.mark.parametrize("units", ["cm", "mm", "ft", "in"])
def test_nested_curves_are_ten_centimetres_apart_in_every_unit(layout_of, shape, units):
    def wire(units, gap=""):
        sizes = {key: metres / words.METRES[units] for key, metres in (("width", 1.5), ("height", 1.2))}
        made = "".join(f"{key} = {length!r}\n" for key, length in sizes.items())
        text = f'units = "{units}"\n[[prop]]\nname = "a"\nshape = "{shape}"\nnested = 3\npixels = 20\n{made}{gap}'
        return layout_of(text).props[0].length

    assert wire(units) == pytest.approx(wire("m", "gap = 0.1"), rel=1e-9)


ARCHES = """
[[prop]]
name = "arch"
shape = "arch"
at = [1, 0]
width = 1
height = 1
pixels = 10
repeat = { count = 3, step = [1.5, 0, 0.5] }
tags = ["arch", "left"]
"""


def test_one_entry_makes_a_row(layout_of):
    layout = layout_of(ARCHES)
    assert [prop.name for prop in layout.props] == ["arch 1", "arch 2", "arch 3"]
    assert [prop.number for prop in layout.props] == [0, 1, 2]
    assert {prop.member_of for prop in layout.props} == {"arch"}
    assert [(prop.start, prop.stop) for prop in layout.props] == [(0, 10), (10, 20), (20, 30)]
    assert layout.named("arch") == (0, 1, 2)
    assert layout.named("arch 2") == (1,)
    X = layout.pixels.X.reshape(3, 10)
    assert X[1] - X[0] == pytest.approx([1.5] * 10, abs=1e-6)
    assert layout.pixels.number.tolist() == [0.0] * 10 + [1.0] * 10 + [2.0] * 10


def test_a_mirrored_row_runs_on_and_swaps_left_and_right(layout_of):
    layout = layout_of(ARCHES + "mirror = { x = 6 }")
    assert [sorted(prop.tags)[1] for prop in layout.props] == ["left"] * 3 + ["right"] * 3
    pixels, wide = layout.pixels, layout.frame.size[0]
    assert pixels.X[:10] + pixels.X[50:] == pytest.approx([wide] * 10, abs=1e-6)
    middles = pixels.centre_x[::10]
    assert (np.diff(middles) > 0).all(), "the row goes on from left to right"
    assert pixels.px[:10] + pixels.px[50:] == pytest.approx([1] * 10, abs=1e-6)
    assert pixels.x[:10] + pixels.x[50:] == pytest.approx([1] * 10, abs=1e-6)


def test_a_mirrored_cone_is_turned_the_other_way(layout_of):
    cone = '[[prop]]\nname = "t"\nshape = "cone"\nheight = 1\nbase = 1\nstrings = 5\npixels = 3\n'
    turn = layout_of(cone + "rotate = { y = 10 }\nmirror = { x = 3 }").pixels.turn
    assert (turn[:15] + turn[15:]) % 1 == pytest.approx([0] * 15, abs=1e-6)


def test_a_prop_is_turned_before_it_is_placed(layout_of):
    text = '[[prop]]\nname = "a"\nshape = "line"\nto = [2, 0]\npixels = 2\nat = [5, 1, 1]\nrotate = { z = 90 }'
    layout = layout_of(text + "\n[[prop]]\nname = 'o'\nshape = 'spot'")
    assert layout.pixels.X[:2] == pytest.approx([5, 5])
    assert layout.pixels.Y[:2] == pytest.approx([1.5, 2.5])


FRAMED = """
[frame]
from = [0, 0, 0]
to = [10, 5, 4]
"""


def test_an_explicit_frame_keeps_what_stays_in_place(layout_of):
    both = layout_of(FRAMED + ARCHES + '[[prop]]\nname = "tree"\nshape = "spot"\nat = [9, 4, 3]')
    one = layout_of(FRAMED + ARCHES)
    for name in ("x", "y", "z", "seed", "centre_x", "centre_z"):
        assert (getattr(both.pixels, name)[:30] == getattr(one.pixels, name)).all()
    assert both.pixels.x[30] == pytest.approx(0.9)


def problems(layout_of, text: str) -> list[str]:
    """Every problem of the text, the file's name left out."""
    with pytest.raises(LayoutError) as caught:
        layout_of(text)
    return [str(problem).partition("house.toml")[2].lstrip(", ") for problem in caught.value.problems]


def test_a_prop_outside_the_frame_is_told(layout_of):
    assert problems(layout_of, 'title = "t"' + FRAMED + '[[prop]]\nname = "far"\nshape = "spot"\nat = [12, 6]') == [
        "line 5, prop 1: 'far' stands outside the frame: 2.00 m over the right, 1.00 m over the top\n"
        "    Widen [frame], or move the prop."
    ]


def test_names_are_taken_once(layout_of):
    text = ARCHES + "[[prop]]\nname = 'arch 2'\nshape = 'spot'\n[[prop]]\nname = 'arch'\nshape = 'spot'"
    assert problems(layout_of, text) == [
        "line 13, prop 2, name: the name 'arch 2' is already taken by prop 1\n    Give each prop its own name.",
        "line 16, prop 3, name: the name 'arch' is already taken by prop 1\n    Give each prop its own name.",
    ]


def test_sizes_that_clash_and_houses_that_are_too_large_are_told_together(layout_of):
    text = (
        "[[prop]]\nname = 'a'\nshape = 'star'\nouter = 1\ninner = 2\npixels = 3\n"
        "[[prop]]\nname = 'b'\nshape = 'grid'\ncolumns = 2000\nrows = 2000\nwidth = 1\nheight = 1\n"
        "[[prop]]\nname = 'c'\nshape = 'line'\npixels = 4\nto = [0, 0]\n"
    )
    assert problems(layout_of, text) == [
        "line 2, prop 1: 'inner' is not smaller than 'outer'\n    Make the inner radius the smaller one.",
        "line 8, prop 2: this makes 4,000,000 pixels, more than the 2,000,000 a layout may have\n"
        "    Check the sizes, the pitch and the units.",
        "line 15, prop 3: the wire has no length\n    Give it two different ends.",
    ]


def test_a_row_too_long_is_refused_before_it_is_made(layout_of):
    text = "[[prop]]\nname = 'a'\nshape = 'line'\nto = [1, 0]\npixels = {}\nrepeat = {{ count = {}, step = [1, 0] }}\n"
    assert problems(layout_of, text.format(300_000, 9999)) == [
        "line 2, prop 1: with this prop the layout has 2,999,700,000 pixels, more than 2,000,000\n"
        "    Check the counts, the pitch and the units."
    ]
    assert problems(layout_of, text.format(1, 10_000) + "mirror = { x = 0 }\n[[prop]]\nname = 'b'\nshape = 'spot'") == [
        "line 9, prop 2: with this prop the layout has 20,001 props, more than 20,000\n"
        "    Make one prop of those that belong together."
    ]


def test_a_house_of_hundreds_of_kilometres_has_its_units_wrong(layout_of):
    frame = "[frame]\nfrom = [0, 0, 0]\nto = [1e6, 1, 1]\n"
    text = f"{frame}[[prop]]\nname = 'a'\nshape = 'line'\nto = [400000, 0]\npixels = 2\n"
    assert problems(layout_of, text) == [
        ": the house measures 200,000 m\n    Check 'units' and the places of the props."
    ]


def test_props_of_one_make_share_their_wire(layout_of, monkeypatch):
    from eavesong.layout import shapes

    made = []
    usual = shapes.line
    monkeypatch.setattr(shapes, "line", lambda *what: made.append(what) or usual(*what))
    prop = "[[prop]]\nname = 'a{}'\nshape = 'line'\nat = [{}, 0]\nto = [1, 0]\npixels = {}\ntags = ['t{}']\n"
    layout = layout_of("".join(prop.format(n, n, 5 if n < 3 else 6, n) for n in range(4)))
    assert len(made) == 2
    metres = [layout.pixels.X[prop.start] + layout.frame.origin[0] for prop in layout.props]
    assert metres == pytest.approx([0.1, 1.1, 2.1, 3 + 1 / 12], abs=1e-6)


@pytest.mark.parametrize(("written", "metres"), [("", 10), ("watched_from = 8\n", 8)])
def test_the_nearest_eye_is_ten_metres_away_unless_told(layout_of, written, metres):
    assert layout_of(written + HOUSE.format(units="m", **METRES)).watched_from == metres


def test_the_nearest_eye_is_told_in_the_units_of_the_file(layout_of):
    # International yard and pound agreement, 1959: 1 ft = 0.3048 m.
    feet = {key: size / 0.3048 for key, size in METRES.items()}
    assert layout_of("watched_from = 25\n" + HOUSE.format(units="ft", **feet)).watched_from == pytest.approx(7.62)
    with pytest.raises(LayoutError, match=r"the nearest eye is 0\.5 m away"):
        layout_of("watched_from = 0.5\n" + HOUSE.format(units="m", **METRES))
