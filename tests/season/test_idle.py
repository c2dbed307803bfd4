"""The colour between songs keeps to what the house wishes."""

import contextlib
from dataclasses import replace
from pathlib import Path

import pytest

from eavesong.playback.source import FileSource
from eavesong.season.idle import idle_frame, idle_words
from playback.helpers import house, moving, write_frames

UNLIT = 'title = "House"\nunlit = ["prop 2"]\n'
BLUE = '[palettes]\nall = ["#0000ff", "white"]\n'


@pytest.mark.parametrize(
    ("layout", "first", "second", "words"),
    [
        ('title = "House"\n', [51, 0, 0], [51, 0, 0], "red"),
        (UNLIT, [51, 0, 0], [0, 0, 0], "red; unlit: prop 2"),
        (UNLIT + BLUE, [0, 0, 51], [0, 0, 0], "red, here in the house's own #0000ff; unlit: prop 2"),
    ],
)
def test_what_is_unlit_stays_dark_and_all_is_in_the_colours_of_the_house(
    tmp_path: Path, layout: str, first: list[int], second: list[int], words: str
) -> None:
    """A fifth of full drive is 51 of 255."""
    described = house(universes=2, pixels=4)
    described = replace(described, texts={**described.texts, "layout": layout})
    write_frames(tmp_path / "a.h5", described, moving(described, 4))
    with contextlib.closing(FileSource(tmp_path / "a.h5")) as source:
        assert idle_frame(source, "red", 0.2).tolist() == first * 4 + second * 4
        assert idle_words(source, "red") == words
