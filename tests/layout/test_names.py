"""Names in chains, before anything else is known of a layout."""

import tomllib

import pytest

from eavesong.errors import LayoutError
from eavesong.layout.faults import Faults
from eavesong.layout.names import note_strange_names

LAYOUT = """\
[[prop]]
name = "eaves"
[[prop]]
name = "arch"
repeat = { count = 3, step = [1, 0] }
[[prop]]
name = "star"
mirror = { x = 2 }
[[controller]]
[[controller.output]]
chain = ["eaves", "eave", { prop = "arch 3" }]
[[controller.output]]
chain = ["arch", "arch 4", "star 2", 5]
"""


def strange(text: str) -> list[tuple[str, str, str]]:
    faults = Faults("house.toml", text)
    note_strange_names(tomllib.loads(text), faults)
    return [(problem.place, problem.found, problem.instead) for problem in faults.problems]


def test_names_that_nothing_bears_are_told_with_the_nearest_one() -> None:
    found = strange(LAYOUT)
    assert [words for _, words, _ in found] == ["no prop is called 'eave'", "no prop is called 'arch 4'"]
    assert "'eaves'" in found[0][2]
    assert "'arch" in found[1][2]
    assert "line 11" in found[0][0]


def test_of_a_row_that_is_shorter_now_what_is_left_of_its_members_is_told() -> None:
    (_, _, advice) = strange(LAYOUT)[1]
    assert advice == "'arch' is 3 members now: take what stands here of 'arch 4' out, too, or raise the row's count."


def test_what_is_no_layout_at_all_tells_nothing_here() -> None:
    for text in ("prop = 3\ncontroller = [1, 2]", 'controller = [{ output = "x" }]', "[[controller]]\noutput = [{}]"):
        assert strange(text) == []


def test_a_row_too_long_to_be_one_has_no_members() -> None:
    text = LAYOUT.replace("count = 3", "count = 20000")
    assert "no prop is called 'arch 3'" in [words for _, words, _ in strange(text)]


def test_a_pitch_that_no_wire_has_is_told_with_the_rest(tmp_path):
    from eavesong.layout import load_layout

    (tmp_path / "house.toml").write_text(
        'title = "H"\n[[prop]]\nname = "eaves"\nshape = "line"\nto = [9, 0]\npitch = 5\nmirror = 4\n'
    )
    with pytest.raises(LayoutError) as refused:
        load_layout(tmp_path / "house.toml")
    assert [(each.place, each.instead) for each in refused.value.problems][1] == (
        "line 7, prop 1, mirror", "Write it in braces: { x = 5.0 }.",
    )  # fmt: skip
    assert "its pixels would be 5 m apart" in refused.value.problems[0].found


TAKEN_OUT = """\
title = "H"
[[prop]]
name = "eaves"
shape = "line"
to = [9, 0]
pixels = 90
[[controller]]
name = "shed"
address = "192.0.2.10"
[[controller.output]]
number = 1
chain = ["eaves", "star"]
[[supply]]
name = "attic"
volts = 5
watts = 200
[[supply.feed]]
controller = "shed"
output = 1
props = ["{fed}"]
inject = [{{ prop = "star" }}]
"""


@pytest.mark.parametrize(("fed", "lines"), [("star", [12, 20, 21]), ("eaves", [12, 21])])
def test_a_prop_that_was_taken_out_is_told_with_its_supplies_at_once(tmp_path, fed, lines):
    from eavesong.layout import load_layout

    (tmp_path / "house.toml").write_text(TAKEN_OUT.format(fed=fed))
    with pytest.raises(LayoutError) as refused:
        load_layout(tmp_path / "house.toml")
    problems = refused.value.problems
    assert [int(each.place.split(",")[0].removeprefix("line ")) for each in problems] == lines
    assert {each.found for each in problems} == {"no prop is called 'star'"}
    assert all("If it was taken down, take it out here, too" in each.instead for each in problems)


def test_points_of_one_feed_on_a_prop_that_was_taken_out_are_told_once(tmp_path):
    from eavesong.layout import load_layout

    points = ", ".join(f'{{ prop = "star", pixel = {pixel} }}' for pixel in (1, 20, 40))
    (tmp_path / "house.toml").write_text(TAKEN_OUT.format(fed="eaves").replace('{ prop = "star" }', points))
    with pytest.raises(LayoutError) as refused:
        load_layout(tmp_path / "house.toml")
    found = [each.found for each in refused.value.problems]
    assert found == ["no prop is called 'star'", "no prop is called 'star', 3 times here"]


def test_a_feed_of_a_prop_that_never_was_is_told_once(tmp_path):
    from eavesong.layout import load_layout

    text = TAKEN_OUT.format(fed="eave").replace(', "star"]', "]").replace('inject = [{ prop = "star" }]\n', "")
    (tmp_path / "house.toml").write_text(text)
    with pytest.raises(LayoutError) as refused:
        load_layout(tmp_path / "house.toml")
    (problem,) = refused.value.problems
    assert (problem.found, problem.instead) == ("no prop on shed, output 1 is called 'eave'", "Did you mean 'eaves'?")


def test_the_first_of_a_row_that_is_one_prop_now_is_called_as_the_row() -> None:
    text = '[[prop]]\nname = "tree"\n[[controller]]\n[[controller.output]]\nchain = ["tree 1", "tree 2"]\n'
    (_, _, first), (_, _, second) = strange(text)
    assert first == "'tree' is one prop now: write 'tree' here, or raise the row's count."
    assert second == "'tree' is one prop now: take what stands here of 'tree 2' out, too, or raise the row's count."
