"""Layout files good and bad: every fault has its place, and no text whatever ends in anything but LayoutError."""

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavesong.errors import LayoutError
from eavesong.layout import layout_from_points, layout_schema, load_layout
from eavesong.layout.props import AnyProp
from eavesong.layout.things import SHAPE_FOR

FAULTS = """\
titel = "Try"
units = "yd"
[frame]
from = [1, 0]
to = [0, 0]
[[prop]]
name = "roof"
shape = "polyine"
points = [[0, 10], [10, 16]]
[[prop]]
name = "arch"
shape = "arch"
width = 0
hight = 3
pixels = "50"
at = [3, 0, 2, 3]
repeat = { count = 0, stp = [5, 0] }
tags = ["Left"]
[[prop]]
shape = "line"
name = "x "
to = [nan, inf]
[[prop]]
shape = "grid"
name = "g"
columns = 3
rows = 2.5
width = 1
height = true
start = "top lefft"
[[prop]]
shape = "points"
name = "p"
file = "../x.csv"
[[prop]]
name = "k"
[[controller]]
name = "box"
address = "300.1.1.1"
[[controller.output]]
number = 1
order = "GRBV"
chain = ["roof", { prop = "tree", reverse = true }]
brightness = 2
universe = 64000
"""

TOLD = """\
, line 1, titel: 'titel' is not a key here
    Did you mean 'title'?
line 2, units: 'yd' is not one of the choices
    Known choices: cm, ft, in, m, mm.
line 3, frame: 'from' lies beyond 'to'
    Make 'from' the left, bottom, back corner.
line 8, prop 1, shape: 'polyine' is no shape
    Did you mean 'polyline'?
line 13, prop 2, width: must be greater than 0, not 0
line 14, prop 2, hight: 'hight' is not a key here
    Did you mean 'height'?
line 15, prop 2, pixels: must be a whole number, not '50'
    Write 50, without quotes.
line 16, prop 2, at: a place has two or three numbers, not 4
    Write [x, y] or [x, y, z], numbers with a point: 3.6.
line 17, prop 2, repeat, count: must be at least 1, not 0
line 17, prop 2, repeat, stp: 'stp' is not a key here
    Did you mean 'step'?
line 18, prop 2, tags 1: a tag is one lower-case word (found 'Left')
    Write it with the letters a-z, digits, '-' and '_'.
line 21, prop 3, name: a name begins or ends with a blank, or holds a control character (found 'x ')
    Write it plainly.
line 22, prop 3, to 1: must be a finite number, not nan
line 22, prop 3, to 2: must be a finite number, not inf
line 27, prop 4, rows: must be a whole number, not 2.5
line 29, prop 4, height: must be a number, not true
line 30, prop 4, start: 'top lefft' is not one of the choices
    Did you mean 'top left'?
line 34, prop 5, file: this path leads out of the layout's folder (found '../x.csv')
    Put the file beside the layout and name it from there.
line 35, prop 6: 'shape' is missing
    Add a line 'shape = …'.
line 39, controller 1, address: this is neither an IP address nor a host name (found '300.1.1.1')
    Write '192.0.2.10', a host name or 'multicast'.
line 42, controller 1, output 1, order: 'GRBV' is not one of the choices
    Did you mean 'GRB'?
line 43, controller 1, output 1, chain 2, reverse: 'reverse' is not a key here
    Did you mean 'reversed'?
line 43, controller 1, output 1, chain 2: no prop is called 'tree'
    Known props: arch, g, k, p, roof, x . If it was taken down, take it out here, too; and an output that is then empty.
line 44, controller 1, output 1, brightness: must be at most 1, not 2
line 45, controller 1, output 1, universe: must be at most 63999, not 64000
"""


def test_all_faults_of_a_file_are_told_at_once_in_its_order(tmp_path):
    path = tmp_path / "house.toml"
    path.write_text(FAULTS)
    with pytest.raises(LayoutError) as caught:
        load_layout(path)
    told = "\n".join(map(str, caught.value.problems))
    assert told.replace(str(path), "").replace("\n, ", "\n") + "\n" == TOLD


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", r"'title' is missing"),
        ("title = 'a'", r"'prop' is missing"),
        ("title = 'a'\nprop = []", r"line 2, prop: array should have at least 1 item, not 0"),
        ("title = 'a'\n[prop]\nname = 'a'", r"'prop' is a single table\n    Write \[\[prop\]\], in double"),
        (
            "title = 'a'\n[[prop]]\nname = 'a'\nshape = 'tree'",
            r"line 2, prop 1: 'tree' is a thing, not the shape of a wire\n    Write shape = \"cone\" for straight "
            r"strings, \"helix\" for a wound wire, and \"tree\" as a tag\.",
        ),
        ("title = 'a'\n[[prop]]\nname = 'a'\nshape = 'Window'", r"Write shape = \"rectangle\", and what it is as a"),
        (
            "title = 'a'\n[[prop]]\nname = 'a'\nshape = 'line'\nto = [1, 0]\npixels = 2\nunlit = 'a'",
            r"line 7, prop 1, unlit: 'unlit' is no key of this table, but of the whole file\n    A key belongs to "
            r"the \[header\] above it: move the line up, above the first",
        ),
        (
            "title = 'a'\n[[prop]]\nname = 'a'\nshape = 'line'\nto = [1, 0]\npixels = 2\n[palettes]\nunlit = 'a'",
            r"'unlit' stands below \[palettes\], so it is read as the name of a palette\n    Move the line up",
        ),
        ("title = 'a'\nprop = 3", r"line 2, prop: 'prop' is no table"),
        ("title = 'a\nb'", r"line 1, column 11: is not TOML"),
        ("a = " + "[" * 5000, r"more than 64 arrays or tables stand inside each other"),
        ("title = 'a'\n[[prop]]\nname = 'a'\nshape = 'line'\nto = [1, 0]", r"neither 'pixels' nor 'pitch' is given"),
        (
            "title = 'a'\n[[prop]]\nname = 'a'\nshape = 'line'\nto = [1, 0]\npixels = 2\npitch = 1",
            r"line 2, prop 1: both 'pixels' and 'pitch' are given\n    Keep one of them\.",
        ),
        ("title = 'a'\n[[prop]]\nname = 'a'\nshape = 'points'\nfile = 'nowhere.csv'", r"nowhere\.csv: there is no"),
        ("title = 'a'\n[[prop]]\nname = 'a'\nshape = 'points'\nfile = 'C:/x.csv'", r"leads out of the layout's folder"),
        ("title = 'a'\n[[prop]]\nname = 'a'\nshape = 'points'\nfile = '/etc/passwd'", r"leads out of the layout's"),
        ("title = 'a'\n[[prop]]\nname = 'a'\nshape = 'points'\nfile = 'a\\..\\..\\b'", r"leads out of the layout's"),
        ("title = 'a'\n[[prop]]\nname = 'a'\nshape = 'points'\nfile = \"a\\u0000\"", r"holds a control character"),
        ("title = 'a'\n[[prop]]\nname = 'a'\nshape = 'points'\nfile = '.'", r"is not a file"),
    ],
)  # fmt: skip
def test_faults_are_told(layout_of, text, told):
    with pytest.raises(LayoutError, match=told):
        layout_of(text if text else "# title")


def test_a_missing_file_is_told_with_the_nearest_one_there(tmp_path):
    (tmp_path / "bungalow.toml").write_text("")
    with pytest.raises(LayoutError, match=r"there is no such file\n    Did you mean 'bungalow\.toml'\?"):
        load_layout(tmp_path / "bungalo.toml")


def test_a_points_file_may_not_be_a_link_to_elsewhere(tmp_path):
    (tmp_path / "secret.csv").write_text("x,y\n1,2\n")
    folder = tmp_path / "house"
    folder.mkdir()
    (folder / "points.csv").symlink_to(tmp_path / "secret.csv")
    (folder / "house.toml").write_text("title = 'a'\n[[prop]]\nname = 'a'\nshape = 'points'\nfile = 'points.csv'")
    with pytest.raises(LayoutError, match=r"points\.csv: leads out of the layout's folder"):
        load_layout(folder / "house.toml")


def test_the_content_hash_changes_with_the_points_file(tmp_path):
    path = tmp_path / "house.toml"
    path.write_text("title = 'a'\nunits = 'ft'\n[[prop]]\nname = 'a'\nshape = 'points'\nfile = 'p.csv'")
    (tmp_path / "p.csv").write_text("x,y\n0,0\n10,0\n")
    first = load_layout(path)
    assert first.props[0].length == pytest.approx(2 * 3.048)
    assert first.text == path.read_text()
    (tmp_path / "p.csv").write_text("x,y\n0,0\n11,0\n")
    assert load_layout(path).content_hash != first.content_hash


def test_a_layout_from_an_array():
    points = np.array([[0, 0, 0], [1, 0, 0], [3, 0, 0]])
    layout = layout_from_points(points, title="three", tags=["roofline"])
    assert layout.names() == ("three",)
    assert layout.tags() == ("roofline",)
    assert layout.pixels.along.tolist() == [0.5, 1.5, 3.5]
    assert layout.props[0].length == 4.5
    assert layout.patch.channel_count == 9


def test_a_layout_from_named_arrays():
    layout = layout_from_points({"a": [[0, 0, 0]], "b": [[1, 1, 1], [2, 2, 2]]}, tags={"b": ["tree"]})
    assert [(prop.name, prop.start, prop.stop) for prop in layout.props] == [("a", 0, 1), ("b", 1, 3)]
    assert layout.tagged("tree") == (1,)
    with pytest.raises(ValueError, match="read-only"):
        layout.pixels.x[0] = 1


@pytest.mark.parametrize(
    ("points", "told"),
    [([], r"points of shape \(0,\)"), ([[1, 2]], r"\(1, 2\), not \(n, 3\)"), ([[0, 0, math.nan]], "not finite"),
     ({}, "there is no prop in it")],
)  # fmt: skip
def test_points_that_are_none_are_told(points, told):
    with pytest.raises(LayoutError, match=told):
        layout_from_points(points)


def test_the_schema_knows_every_shape_and_key():
    schema = layout_schema()
    shapes = schema["properties"]["prop"]["items"]["discriminator"]["mapping"]
    assert {"line", "arch", "grid", "cone", "points", "icicles"} <= set(shapes)
    assert schema["additionalProperties"] is False
    assert "from" in schema["$defs"]["Line"]["properties"]


# ------------------------------------------------------------------ any text at all

words = st.sampled_from(["line", "arch", "grid", "cone", "spot", "polyline", "ring", "star", "sphere", "helix",
                         "icicles", "points", "cane", "spokes", "rectangle", "a", "a 1", "", "top left", "x.csv",
                         "left", "rows", "RGBW", "m", "multicast"])  # fmt: skip
numbers = st.sampled_from([0, 1, 2, 3, 7, -1, 0.5, 1e-300, 1e7, 1e300, 10**30, math.nan, math.inf, -math.inf])
scalars = words | numbers | st.booleans()
values = scalars | st.lists(scalars, max_size=4) | st.lists(st.lists(numbers, max_size=3), max_size=3)
sizes = ["width", "height", "base", "top", "turns", "diameter", "pitch", "gap", "outer", "inner", "hook", "turn"]
keys = st.sampled_from(
    ["shape", "at", "to", "from", "points", "pixels", "columns", "rows", "strings", "rings", "tips", "arms", "drops",
     "lengths", "start", "wiring", "zigzag", "closed", "tags", "repeat", "mirror", "rotate", "nested", "file", *sizes]
)  # fmt: skip
plausible = st.fixed_dictionaries(
    {"name": words, "shape": words, "pixels": st.integers(0, 9), **dict.fromkeys(sizes[:4], st.sampled_from([1, 2.5]))}
)
props = st.tuples(plausible, st.dictionaries(keys, values, max_size=8)).map(lambda both: both[0] | both[1])


def toml(value: object) -> str:
    """The value as TOML writes it."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        return "{ " + ", ".join(f'"{key}" = {toml(inner)}' for key, inner in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(map(toml, value)) + "]"
    return f'"{value}"' if isinstance(value, str) else str(value)


def load_or_refuse(path: Path, text: str) -> None:
    path.write_text(text)
    try:
        layout = load_layout(path)
    except LayoutError as error:
        problems, layout = error.problems, None
    if layout is None:
        assert problems
        assert all(problem.file and problem.found for problem in problems)
        return
    for name in ("x", "y", "z", "u", "px", "py", "turn", "seed"):
        values = getattr(layout.pixels, name)
        assert ((values >= 0) & (values <= 1)).all(), name


@given(entries=st.lists(props, min_size=1, max_size=3), more=st.dictionaries(st.sampled_from(
    ["units", "frame", "controller", "photo", "colour"]), values, max_size=2))  # fmt: skip
@settings(max_examples=150, deadline=None)
def test_any_tables_are_a_layout_or_a_layout_error(tmp_path_factory, entries, more):
    lines = ['title = "any"', *(f"{key} = {toml(value)}" for key, value in more.items())]
    for entry in entries:
        lines += ["[[prop]]", *(f"{key} = {toml(value)}" for key, value in entry.items())]
    load_or_refuse(tmp_path_factory.getbasetemp() / "any.toml", "\n".join(lines))


GOOD = Path(__file__).parents[2] / "layouts" / "bungalow.toml"


@given(st.data())
@settings(max_examples=100, deadline=None)
def test_a_damaged_file_is_a_layout_or_a_layout_error(tmp_path_factory, data):
    text = GOOD.read_text()
    begin = data.draw(st.integers(0, len(text)))
    end = data.draw(st.integers(begin, min(len(text), begin + 40)))
    patch = data.draw(st.text(st.characters(codec="utf-8"), max_size=6))
    load_or_refuse(tmp_path_factory.getbasetemp() / "damaged.toml", text[:begin] + patch + text[end:])


def test_every_thing_is_given_a_shape_that_there_is():
    shapes = {kind.model_fields["shape"].annotation.__args__[0] for kind in AnyProp.__args__[0].__args__}
    assert set(SHAPE_FOR.values()) <= shapes
    assert not shapes & set(SHAPE_FOR)


def test_one_tag_needs_no_brackets(layout_of):
    layout = layout_of("title = 'a'\n[[prop]]\nname = 'a'\nshape = 'spot'\ntags = 'lamp'")
    assert layout.props[0].tags == {"lamp"}


def test_several_words_in_one_tag_are_told(layout_of):
    with pytest.raises(LayoutError, match=r'Write each in quotes of its own: tags = \["left", "roof"\]\.'):
        layout_of("title = 'a'\n[[prop]]\nname = 'a'\nshape = 'spot'\ntags = 'left roof'")


def test_rows_and_their_members_are_known_in_chains_beside_other_faults(layout_of):
    """The second prop is wrong; of the chain, only the name that nobody has is told beside it."""
    with pytest.raises(LayoutError) as caught:
        layout_of(
            "title = 'a'\n[[prop]]\nname = 'a'\nshape = 'spot'\nrepeat = { count = 2, step = [1, 0] }\n"
            "mirror = { x = 9 }\n[[prop]]\nname = 'b'\nshape = 'bow'\n"
            "[[controller]]\nname = 'c'\n[[controller.output]]\n"
            "number = 1\nchain = ['a', 'a 4', 'b', 'a 5']"
        )
    assert [problem.found for problem in caught.value.problems] == ["'bow' is no shape", "no prop is called 'a 5'"]


def test_a_points_file_that_is_missing_is_told_with_its_prop(tmp_path):
    (tmp_path / "house.toml").write_text('title = "H"\n[[prop]]\nname = "rose"\nshape = "points"\nfile = "rose.csv"\n')
    with pytest.raises(LayoutError, match=r"rose\.csv: there is no such file \(for the prop 'rose'\)"):
        load_layout(tmp_path / "house.toml")


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        ("[[prop]]\nnmae = 'a'\nshape = 'line'\nto = [3, 0]\npixels = 2",
         "'nmae' is not a key here. Did you mean 'name'?"),
        ("[[prop]]\nname = 'a'\nshpae = 'line'\nto = [3, 0]\npixels = 2",
         "'shpae' is not a key here. Did you mean 'shape'?"),
        ("prop = 3", "'prop' is no table (found 3). Write [[prop]] on a line of its own, and below it what it has."),
    ],
)  # fmt: skip
def test_a_slip_is_told_once_with_what_to_write(tmp_path: Path, lines: str, told: str) -> None:
    path = tmp_path / "house.toml"
    path.write_text(f"title = 'a'\n{lines}\n")
    with pytest.raises(LayoutError) as caught:
        load_layout(path)
    (problem,) = caught.value.problems
    assert f"{problem.found}. {problem.instead}" == told
