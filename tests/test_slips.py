"""Slips of the pen: TOML cannot say what was meant, and the advice can."""

import pytest

from eavesong.errors import LayoutError, Problem
from eavesong.slips import in_order, read_tables


@pytest.mark.parametrize(
    ("text", "place", "advice"),
    [
        ("a = 1\nheight = 3,6", "line 2", "Write 3.6, with a point."),
        ("height = -3,60 # metres", "line 1", "Write -3.60, with a point."),
        ("[prop]\na = 1\n[prop]\na = 2", "line 3", "Write [[prop]], in double brackets, above every one of them."),
        ("palette = ember", "line 1", 'Write text in quotes: "ember".'),
        ("= 3", "line 1", ""),  # anybody's guess
    ],
)
def test_what_was_meant(text: str, place: str, advice: str) -> None:
    with pytest.raises(LayoutError) as raised:
        read_tables(text, "house.toml", LayoutError)
    (problem,) = raised.value.problems
    assert problem.place.startswith(place)
    assert problem.instead == advice


def test_what_is_toml_is_read() -> None:
    assert read_tables("height = 3.6", "house.toml", LayoutError) == {"height": 3.6}


def test_problems_stand_in_the_order_of_their_lines_each_once() -> None:
    first, second = Problem("a", "line 2, x", "one"), Problem("a", "line 10", "two")
    whole, other = Problem("a", "", "three"), Problem("b", "line 1", "four")
    counted = Problem("a", "", "9 more problems follow", count=9)
    assert in_order([other, counted, second, first, second, whole], "a") == [whole, first, second, counted, other]
