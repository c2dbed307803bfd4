"""``eavesong info``: for people, for programs, and where there is nothing to read."""

import json

import pytest

from eavesong.scene import Order, order_text
from lamps import EFFECT, LAMPS, LAYOUT, SHOW, house, known_frames, write


@pytest.fixture
def lamps(tmp_path):
    write(tmp_path / "lamps.h5", house(LAMPS), known_frames())
    return tmp_path / "lamps.h5"


def test_people_read_lines_and_programs_json(eavesong, lamps):
    read, told = eavesong("info", lamps), json.loads(eavesong("info", lamps, "--json", "--verify").out)
    assert read.code == 0
    assert f"{told['frame_count']} at {told['frame_rate']:g} a second" in read.out
    assert "complete    yes\n" in read.out
    assert told["verified"]
    assert told["duration"] == told["frame_count"] / told["frame_rate"]


def test_what_was_changed_since_is_told_beside(eavesong, tmp_path):
    texts = {"layout": LAYOUT, "show": SHOW, "effect mine.toml": EFFECT, "order": order_text(Order("a.toml", "b.toml"))}
    write(tmp_path / "lamps.h5", house(LAMPS, texts=texts), known_frames())
    (tmp_path / "mine.toml").write_text(EFFECT)
    assert eavesong("info", tmp_path / "lamps.h5").err == ""
    (tmp_path / "mine.toml").write_text(EFFECT + "# dimmer\n")
    told = eavesong("info", tmp_path / "lamps.h5", "--json")
    assert told.err == "'mine.toml' was changed after these frames were made, which show what it was before.\n"
    assert json.loads(told.out)


def test_what_is_no_frames_file_ends_with_3(eavesong, tmp_path):
    (tmp_path / "a.h5").write_text("nothing")
    ended = eavesong("info", tmp_path / "a.h5")
    assert ended.code == 3
    assert "a.h5" in ended.err


@pytest.mark.parametrize("arguments", [[], ["a.h5", "b.h5"], ["--verfy", "a.h5"]])
def test_what_is_typed_wrongly_ends_with_2(eavesong, arguments):
    assert eavesong("info", *arguments).code == 2
