"""Drawings: both back ends show the same marks, in the right places."""

import xml.etree.ElementTree as ElementTree

import numpy as np
import pytest
from PIL import Image

from eavesong.errors import OutputError
from eavesong.layout import layout_from_points, load_layout
from eavesong.layout.draw import draw, save_drawing
from eavesong.layout.paint import Circle, Dots, Figure, Lines, Words, to_png, to_svg

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture
def house():
    square = {"left <&> low": [[0, 0, 0], [0.1, 0, 0]], "right high": [[4, 2, 3], [4, 2.1, 3]]}
    return layout_from_points(square, title='A "house" & garden')


def dots_of(figure: Figure) -> dict[tuple[int, int, int], np.ndarray]:
    """The pixels' own dots (painted last) by colour."""
    return {mark.colour: mark.points for mark in figure.marks if isinstance(mark, Dots)}


def test_the_front_view_has_right_on_the_right_and_up_above(house):
    near, far = list(dots_of(draw(house, "front")).values())[-2:]
    low, high = sorted([near, far], key=lambda points: -points[0, 1])
    assert low[0, 0] < high[0, 0]
    across, up = high[0, 0] - low[0, 0], low[0, 1] - high[0, 1]
    assert across / up == pytest.approx(4 / 2), "the same scale both ways"


def test_a_ring_is_where_data_comes_in(tmp_path):
    line = '[[prop]]\nname = "eaves"\nshape = "line"\nfrom = [0, 3]\nto = [4, 3]\npixels = 20\n'
    rings = []
    for wired in ('"eaves"', '{ prop = "eaves", reversed = true }'):
        path = tmp_path / "house.toml"
        box = f'[[controller]]\nname = "box"\n[[controller.output]]\nnumber = 1\nchain = [{wired}]\n'
        path.write_text(f'title = "A"\n{line}{box}')
        marks = draw(load_layout(path), "front").marks
        rings.append(max(mark.x for mark in marks if isinstance(mark, Circle)))  # that of the legend is farther left
    assert rings[0] < rings[1]


def test_the_plan_has_the_street_below(house):
    points = np.concatenate(list(dots_of(draw(house, "plan")).values())[-2:])
    right = points[:, 0] > points[:, 0].mean()
    assert points[right, 1].min() > points[~right, 1].max()


def test_the_scale_bar_measures_what_it_says(house):
    figure = draw(house, "front")
    bar = max((mark for mark in figure.marks if isinstance(mark, Lines) and len(mark.ends) == 3), key=id)
    told = next(mark.text for mark in figure.marks if isinstance(mark, Words) and mark.text.endswith(" m"))
    near, far = list(dots_of(figure).values())[-2:]
    per_metre = abs(near[0, 0] - far[0, 0]) / 4
    assert bar.ends[0, 2] - bar.ends[0, 0] == pytest.approx(float(told.split()[0]) * per_metre)


def test_every_prop_is_named_and_no_name_lies_on_another(house):
    words = [mark for mark in draw(house).marks if isinstance(mark, Words)]
    names = [mark for mark in words if mark.text in ("left <&> low", "right high")]
    assert len(names) == 2
    assert abs(names[0].y - names[1].y) > 15 or abs(names[0].x - names[1].x) > 100


def test_the_svg_is_xml_with_the_texts_in_it(house):
    root = ElementTree.fromstring(to_svg(draw(house)))
    texts = [text.text for text in root.iter(f"{SVG}text")]
    assert {'A "house" & garden', "left <&> low", "4 pixels in 2 props, seen from the street"} <= set(texts)


def test_the_png_shows_the_dots_where_the_svg_has_them(house, tmp_path):
    figure = draw(house)
    path = tmp_path / "house.png"
    path.write_bytes(to_png(figure))
    picture = Image.open(path).convert("RGB")
    assert picture.size == (figure.width, figure.height)
    for colour, points in list(dots_of(figure).items())[-2:]:
        x, y = points[1]
        assert picture.getpixel((round(x), round(y))) == pytest.approx(colour, abs=30)


@pytest.mark.parametrize("name", ["house.svg", "house.PNG"])
def test_the_file_name_says_the_kind(house, tmp_path, name):
    save_drawing(house, tmp_path / name, "plan")
    assert (tmp_path / name).stat().st_size > 500


@pytest.mark.parametrize(("name", "told"), [("house.jpg", "'.jpg' is no kind of drawing"), ("house", "no kind of")])
def test_other_kinds_are_refused(house, tmp_path, name, told):
    with pytest.raises(OutputError, match=told):
        save_drawing(house, tmp_path / name)


@pytest.mark.parametrize("points", [[[0, 0, 0]], [[0, 0, 0], [0, 900, 0]], [[0, 0, 0], [5000, 0, 0]]])
def test_houses_of_any_proportion_can_be_drawn(points):
    for view in ("front", "plan"):
        figure = draw(layout_from_points(points), view)
        assert 300 < figure.height <= 1400
        for mark in figure.marks:
            if isinstance(mark, Dots):
                assert (mark.points >= 0).all()
                assert (mark.points <= [figure.width, figure.height]).all()


def test_props_that_stay_dark_are_drawn_dim_and_said_to(tmp_path):
    text = 'title = "A"\nunlit = "low"\n' + "".join(
        f'[[prop]]\nname = "{name}"\nshape = "line"\nfrom = [0, {y}]\nto = [5, {y}]\npixels = 20\n'
        for name, y in (("low", 1), ("high", 3))
    )
    (tmp_path / "house.toml").write_text(text)
    figure = draw(load_layout(tmp_path / "house.toml"))
    dim, bright = sorted(list(dots_of(figure))[-2:], key=max)
    assert max(dim) < max(bright) / 2
    assert {"low, unlit", "high"} <= {mark.text for mark in figure.marks if isinstance(mark, Words)}
