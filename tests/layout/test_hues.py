"""Hues that have others between them."""

import pytest

from eavesong.colours import parse_colour
from eavesong.layout.hues import hues_apart


@pytest.mark.parametrize(
    ("colours", "count"),
    [
        (("#ffb46b", "green"), 1),  # OKLCH hues 64 and 142 degrees: yellow lies between
        (("#ff0000", "#00ff00", "#0000ff"), 3),  # 29, 142, 264
        (("#3a0f00", "#ff7a1a", "#ffc46b"), 0),  # shades of amber: 41 to 76
        (("#19a0ff", "white"), 0),  # white has no hue
        (("#ffb46b", "#ffd6a1", "red"), 1),  # 29 to 64: coral lies between; 64 to 74 are one warm white
        (("gold",), 0),
    ],
)
def test_hues_that_have_others_between_them(colours: tuple[str, ...], count: int) -> None:
    """Hues as CSS Color 4 gives them for OKLCH."""
    assert len(hues_apart({"all": tuple(map(parse_colour, colours))})) == count
    first, *others = map(parse_colour, colours)  # the same where some of them take the place of one palette alone
    assert len(hues_apart({"all": (first,), "frost": tuple(others or [first])})) == count
    assert hues_apart({"frost": tuple(map(parse_colour, colours))}) == ()  # other palettes are the show's
