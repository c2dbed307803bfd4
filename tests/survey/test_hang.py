"""Props on points: every shape of the layout room, placed by hand and read back by the layout room itself."""

from dataclasses import replace

import numpy as np
import pytest

from eavesong.errors import SurveyError
from eavesong.layout import load_layout
from eavesong.survey.anchors import MODELS
from eavesong.survey.camera import Lens, turned
from eavesong.survey.hang import turns
from eavesong.survey.read import read_survey
from eavesong.survey.solution import solve
from eavesong.survey.trust import Trust
from eavesong.survey.write import layout_text, told

POINTS = {
    "origin": (0, 0, 0), "left": (-2, 0, 3), "right": (1, 0, 3), "low left": (2, 1, 0), "low right": (4, 1, 0),
    "top right": (4, 2.5, 0), "top left": (2, 2.5, 0), "foot": (-4, 0, 2), "tip": (-4, 2.2, 2), "last": (7, 0, 3),
    "bay": (5, 1.5, 1),
}  # fmt: skip

SHAPES = {
    "spot": ('at = "foot"', 1),
    "line": ('from = "low left"\nto = "top right"\npixels = 10', 10),
    "polyline": ('points = ["low left", "top left", "top right"]\nspacing = "50 cm"', 7),
    "arch": ('feet = ["left", "right"]\nheight = "4 ft"\npixels = 20', 20),
    "ring": ('centre = "top left"\nwidth = "60 cm"\npixels = 12', 12),
    "rectangle": ('corners = ["low left", "low right", "top right", "top left"]\nspacing = 0.5', 14),
    "cane": ('foot = "foot"\nheight = 1.2\nhook = "30 cm"\npixels = 9', 9),
    "star": ('centre = "top left"\nouter = 0.5\ninner = 0.2\npixels = 20', 20),
    "spokes": ('centre = "top left"\nouter = 0.5\narms = 4\npixels = 3', 12),
    "grid": ('corners = ["low left", "low right", "top right", "top left"]\ncolumns = 4\nrows = 3', 12),
    "cone": ('foot = "foot"\ntip = "tip"\nbase = 1.5\nstrings = 6\npixels = 10', 60),
    "helix": ('foot = "foot"\ntip = "tip"\nbase = "20 cm"\nturns = 5\npixels = 30', 30),
    "sphere": ('centre = "tip"\ndiameter = 0.4\nrings = 4\npixels = 24', 24),
    "icicles": ('from = "top left"\nto = "top right"\ndrops = 5\nlengths = ["30 cm", "50 cm"]\nspacing = "10 cm"', 19),
}


def placed(tmp_path, prop, units="m", covariance=0.01**2):
    """The layout of one prop on POINTS, whose places are taken as solved."""
    wall = '[[plane]]\nname = "side"\nturned = 30\n'
    text = f'title = "Points"\nunits = "{units}"\n[[photo]]\nfile = "a.jpg"\nsize = [4000, 3000]\n{wall}'
    for number, name in enumerate(POINTS):
        on = '"front"' if number < 2 else '"side"' if name == "bay" else "[]"
        text += f'[[point]]\nname = "{name}"\nat = [{100 + 300 * number}, {200 + (number * 731) % 2000}]\non = {on}\n'
    text += '[[measure]]\nfrom = "left"\nto = "right"\nlength = 3\n' + prop
    path = tmp_path / "a.survey.toml"
    path.write_text(text)
    read = read_survey(path)
    written = layout_text(read, _taken(read, covariance))
    (tmp_path / "a.toml").write_text(written)
    return written, load_layout(tmp_path / "a.toml")


class _taken:  # noqa: N801
    """A solution whose points are POINTS."""

    def __init__(self, read, covariance):
        self.known, self.points = read.known, np.array(list(POINTS.values()), float)
        self.covariance = covariance * np.eye(3 * len(POINTS))
        self.adjusted = self

    def lens(self, view):
        return Lens(3000.0, 0.0, turned(0.0, 0.1, 0.0), np.array([3.0, 1.6, 12.0]), np.array([2000.0, 1500.0]))

    def heading(self, wall):
        return np.radians(30.0)


def test_every_shape_of_the_layout_room_can_be_hung():
    assert set(SHAPES) == set(MODELS)


@pytest.mark.parametrize("shape", SHAPES)
def test_the_layout_room_reads_what_is_written(tmp_path, shape):
    keys, pixels = SHAPES[shape]
    _, layout = placed(tmp_path, f'[[prop]]\nname = "it"\nshape = "{shape}"\n{keys}\ntags = ["ground"]\n')
    assert layout.pixel_count == pixels
    assert layout.props[0].tags == {"ground"}


def metres(layout):
    return np.stack([layout.pixels.X, layout.pixels.Y, layout.pixels.Z], axis=1) + layout.frame.origin


def test_an_arch_stands_on_its_feet(tmp_path):
    """From (-2, 0, 3) to (1, 0, 3), 4 ft high: its crown is at (-0.5, 1.22, 3)."""
    written, layout = placed(
        tmp_path, f'[[prop]]\nname = "it"\nshape = "arch"\n{SHAPES["arch"][0]}\n'.replace("20", "2001")
    )
    places = metres(layout)
    assert places[0] == pytest.approx([-2, 0, 3], abs=0.02)
    assert places[-1] == pytest.approx([1, 0, 3], abs=0.02)
    assert places[1000] == pytest.approx([-0.5, 1.2192, 3], abs=0.01)
    assert "width = 3.0  # ± 3 cm" in written  # 1.96 times the root of two times a centimetre
    assert "# ± holds" not in written


def test_a_row_ends_where_its_last_one_is(tmp_path):
    """Four arches whose first left foot is at x = -2 and whose last is at x = 7: a step of 3."""
    prop = f'[[prop]]\nname = "it"\nshape = "arch"\n{SHAPES["arch"][0]}\nrepeat = {{ count = 4, last = "last" }}\n'
    written, layout = placed(tmp_path, prop)
    assert "repeat = { count = 4, step = [3.0, 0.0, 0.0] }" in written
    assert [prop.name for prop in layout.props] == ["it 1", "it 2", "it 3", "it 4"]


def test_a_sheet_hangs_in_its_corners(tmp_path):
    _, layout = placed(tmp_path, f'[[prop]]\nname = "it"\nshape = "grid"\n{SHAPES["grid"][0]}\n')
    places = metres(layout)
    assert places.min(axis=0) == pytest.approx([2.25, 1.25, 0], abs=0.01)  # the middles of the cells
    assert places.max(axis=0) == pytest.approx([3.75, 2.25, 0], abs=0.01)


def test_what_hangs_on_a_wall_faces_as_it_does(tmp_path):
    written, _ = placed(tmp_path, '[[prop]]\nname = "it"\nshape = "ring"\ncentre = "bay"\nwidth = 0.5\npixels = 9\n')
    assert "rotate = { y = 30.0 }" in written


def test_feet_and_inches_stay_feet(tmp_path):
    prop = '[[prop]]\nname = "it"\nshape = "cane"\nfoot = "foot"\nheight = "4 ft 6 in"\nhook = "1 ft"\npixels = 9\n'
    written, layout = placed(tmp_path, prop, units="ft")
    assert 'units = "ft"' in written
    assert "height = 4.5" in written
    assert "± 1.1 in" in written  # 2.8 cm
    assert metres(layout)[0] == pytest.approx([-4, 0, 2], abs=0.1)


@pytest.mark.parametrize(
    ("prop", "found"),
    [
        ('shape = "arch"\nfeet = ["left", "right"]\npixels = 9', "neither 'height' nor 'crown' is given"),
        ('shape = "cone"\nfoot = "foot"\ntip = "tip"\nheight = 2\nbase = 1\nstrings = 4\npixels = 9', "both 'height'"),
        ('shape = "line"\nfrom = "left"\nto = "right"', "neither 'pixels' nor 'spacing' is given"),
        ('shape = "line"\nfrom = "left"\nto = "wright"\npixels = 3', "Did you mean 'right'"),
        ('shape = "lin"\nfrom = "left"\nto = "right"', "'lin' is no shape"),
        ('shape = "cane"\nfoot = "foot"\nheight = 0.5\nhook = 1.2\npixels = 9', "as surveyed, the hook is wider"),
        ('shape = "line"\nfrom = "left"\nto = "left"\npixels = 3', "as surveyed, the wire has no length"),
        ('shape = "spot"\nat = "foot"\nrepeat = { count = 3 }', "either 'last' or 'step'"),
    ],
)  # fmt: skip
def test_props_that_cannot_be_hung(tmp_path, prop, found):
    with pytest.raises(SurveyError, match=found):
        placed(tmp_path, f'[[prop]]\nname = "it"\n{prop}\n')


@pytest.mark.parametrize(("right", "up", "wanted"), [
    ([1, 0, 0], [0, 1, 0], [0, 0, 0]),
    ([np.cos(0.5), 0, -np.sin(0.5)], [0, 1, 0], [0, np.degrees(0.5), 0]),
    ([1, 0, 0], [0, np.cos(0.3), np.sin(0.3)], [np.degrees(0.3), 0, 0]),
    ([np.cos(0.2), np.sin(0.2), 0], [-np.sin(0.2), np.cos(0.2), 0], [0, 0, np.degrees(0.2)]),
])  # fmt: skip
def test_turns_are_those_of_the_layout_room(right, up, wanted):
    from eavesong.layout.coordinates import rotation

    found = turns(np.array(right, float), np.array(up, float))
    assert found == pytest.approx(wanted, abs=1e-9)
    assert rotation(*found) @ [1, 0, 0] == pytest.approx(right)


@pytest.mark.parametrize(("metres_", "units", "wanted"), [
    (0.031, "m", "3 cm"), (0.004, "m", "0.4 cm"), (1.24, "m", "1.2 m"), (0.031, "ft", "1.2 in"), (0.3, "in", "12 in"),
    (2.0, "ft", "6.6 ft"),
])  # fmt: skip
def test_errors_as_people_say_them(metres_, units, wanted):
    assert told(metres_, units) == wanted


def test_errors_come_from_the_covariance(plain):
    """The bar in the comment is that of the point: a sphere that holds 95 of 100."""
    solution = solve(plain.known)
    wider = replace(solution, trust=Trust(4 * solution.covariance, 0.0, 0.0))
    assert wider.bar(20) == pytest.approx(2 * solution.bar(20))


def test_a_tag_may_be_one_word(tmp_path):
    _, layout = placed(tmp_path, f'[[prop]]\nname = "it"\nshape = "spot"\n{SHAPES["spot"][0]}\ntags = "lamp"\n')
    assert layout.props[0].tags == {"lamp"}


@pytest.mark.parametrize(("units", "written"), [("m", "from = [-2, 0, 3]\nto = [1, 1.5, 3]"),
                                                ("ft", "from = [-7, 0, 9]\nto = [4, 4, 10]")])  # fmt: skip
def test_the_layout_has_a_frame_round_all_lights(tmp_path, units, written):
    """An arch from (-2, 0, 3) to (1, 0, 3), 4 ft (1.22 m) high; 3 m are 9.84 ft."""
    text, layout = placed(tmp_path, f'[[prop]]\nname = "it"\nshape = "arch"\n{SHAPES["arch"][0]}\n', units)
    assert f"[frame]\n{written}" in text
    assert (layout.pixels.x >= 0).all()
    assert (layout.pixels.x <= 1).all()
