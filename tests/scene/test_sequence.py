"""Props in an order of a cue's own: which has its turn when."""

from collections.abc import Callable
from pathlib import Path

import pytest

from eavesong.engines import draw
from eavesong.errors import ShowError
from eavesong.layout import Layout, layout_from_points
from eavesong.music import BeatGrid
from eavesong.scene import Scene, place_cues
from eavesong.scene.place import names_of
from eavesong.scene.sequence import DIRECTIONS, numbers_of
from eavesong.show import Show, load_show

PLACES = {"far left": (0, 1), "near left": (2, 3), "middle": (5, 5), "near right": (8, 3), "far right": (10, 1)}


@pytest.fixture
def five() -> Layout:
    """Props of two pixels, one above the other, in a gable: 10 m wide, the lowest at both ends."""
    return layout_from_points(
        {name: [[x, y - 0.5, 0], [x, y + 0.5, 0]] for name, (x, y) in PLACES.items()},
        tags={"near left": ["inner"], "near right": ["inner"]},
    )


def turns(order: list[str], layout: Layout, lit: list[int] | None = None) -> list[int]:
    """The turn of each prop."""
    names = [names_of(prop) for prop in layout.props]
    numbers = numbers_of(order, layout, names, lit or range(len(layout.props)))
    return [int(numbers[prop.start]) for prop in layout.props]


@pytest.mark.parametrize(
    ("order", "expected"),
    [
        ("left to right", [0, 1, 2, 3, 4]),
        ("right to left", [4, 3, 2, 1, 0]),
        ("middle to sides", [2, 1, 0, 1, 2]),  # both sides have their turns together
        ("sides to middle", [0, 1, 2, 1, 0]),
        ("ground to top", [0, 1, 2, 1, 0]),
        ("top to ground", [2, 1, 0, 1, 2]),
        ("back to street", [0, 0, 0, 0, 0]),  # a flat house has no depth
    ],
)
def test_directions_across_the_house(five: Layout, order: str, expected: list[int]) -> None:
    assert turns([order], five) == expected
    assert order in DIRECTIONS


def test_a_list_says_who_follows_whom_and_the_rest_comes_last(five: Layout) -> None:
    assert turns(["middle", "inner", "far right"], five) == [4, 1, 0, 2, 3]


def test_only_what_is_lit_has_a_turn(five: Layout) -> None:
    assert turns(["right to left"], five, lit=[1, 4]) == [0, 1, 0, 0, 0]


TURN_BY_TURN = """
title = "Turn by turn"
about = "Every beat lights the next prop."
code = '''
level = 1 - edge(abs(number - floor(beat)), 0.5)
colour = rgb(1, 1, 1)
'''
"""


@pytest.mark.parametrize("engine", ["numba", "plain"])
def test_light_goes_in_that_order(engine: str, five: Layout, grid: BeatGrid, tmp_path: Path) -> None:
    """One beat on each prop, two beats a second: in the middle of beat k only the prop is lit whose turn is k."""
    wanted = ["middle", "far left", "far right", "near right", "near left"]
    (tmp_path / "turns.toml").write_text(TURN_BY_TURN)
    (tmp_path / "a.show.toml").write_text(f"[[cue]]\neffect = 'turns.toml'\norder = {wanted}\n")
    scene = Scene(five, grid, place_cues(load_show(tmp_path / "a.show.toml"), five, grid))
    light = draw(scene, engine).block(0, 120).reshape(120, 5, -1).max(axis=-1)
    for beat, name in enumerate(wanted):
        lit = light[int(scene.frame_rate * (beat + 0.5) / 2)]
        assert [prop.name for prop, value in zip(five.props, lit, strict=True) if value] == [name]


def test_a_selector_that_cannot_be_read_is_an_error(read: Callable[[str], Show]) -> None:
    with pytest.raises(ShowError, match="a parenthesis is not closed"):
        read("[[cue]]\neffect = 'glow'\norder = ['(middle']\n")
