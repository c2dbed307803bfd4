"""The studio: saves and knobs in, versions out, and nothing lost on the way."""

import os
import tomllib

import numpy as np
import pytest

from eavesong.watch.edits import Turned
from eavesong.watch.files import Watcher
from watched import SHOW, light_of, until


@pytest.fixture
def watched(studio):
    """The studio with a watcher of its files."""
    watcher = Watcher(studio.reader, studio.saved_again)
    watcher.start()
    yield studio
    watcher.end()


def opacity(studio):
    return studio.shown.scene.cues[0].opacity


def light(studio, index=0):
    block = until(lambda: studio.block(index, False))
    return light_of(block).reshape(-1)


def asked(studio, what):
    said = []
    studio.ask(what, said.append)
    until(lambda: said)
    return said[0]


def turn(studio, knob="opacity", value=0.25, cue=0):
    studio.turn(Turned(cue, knob, value))
    until(lambda: studio.parts.get("edits", {}).get("count"))


def test_a_save_is_seen(watched, tmp_path):
    before = light(watched)
    (tmp_path / "two.show.toml").write_text(SHOW.replace("opacity = 0.8", "opacity = 0.4"))
    until(lambda: opacity(watched) == 0.4)
    assert light(watched).sum() < before.sum()


def test_a_mistake_is_told_and_the_last_good_show_stays(watched, tmp_path):
    show = tmp_path / "two.show.toml"
    show.write_text(SHOW.replace('effect = "wash.toml"', 'effect = "wahs.toml"'))
    (fault,) = until(lambda: watched.parts["faults"])
    assert (fault["file"], fault["place"]) == ("two.show.toml", "line 18, cue 2, effect")
    assert (fault["found"], fault["instead"]) == ("there is no effect file 'wahs.toml'", "Did you mean 'wash.toml'?")
    assert light(watched).any()
    show.write_text(SHOW)
    until(lambda: watched.parts["faults"] == [])


FAULTS = {
    "half a show in it": lambda path: path.write_text(SHOW[:150]),
    "deleted": lambda path: path.unlink(),
    "emptied of text": lambda path: path.write_bytes(b"\xff\xfe\x00"),
    "another file renamed over it": lambda path: os.replace(_draft(path, "title = 3"), path),
    "a folder in its place": lambda path: (path.unlink(), path.mkdir()),
    "a link to itself, which nobody can read": lambda path: (path.unlink(), path.symlink_to(path.name)),
    "a link to nothing": lambda path: (path.unlink(), path.symlink_to("nowhere")),
    "a link to what never ends": lambda path: (path.unlink(), path.symlink_to("/dev/zero")),
    "a pipe that nobody writes to": lambda path: (path.unlink(), os.mkfifo(path)),
}
"""Also for root, who may read every file."""


def _draft(path, text):
    draft = path.with_name("draft")
    draft.write_text(text)
    return draft


@pytest.mark.parametrize("file", ["two.show.toml", "glow.toml", "house.toml", "song.wav"])
@pytest.mark.parametrize("name", FAULTS)
def test_whatever_becomes_of_a_file(watched, tmp_path, name, file):
    """It is told, the last good show plays on, and all is well once the file is back."""
    path, show = tmp_path / file, tmp_path / "two.show.toml"
    good = path.read_bytes()
    FAULTS[name](path)
    until(lambda: watched.parts["faults"])
    assert light(watched).any()
    if path.is_dir():
        path.rmdir()
    path.unlink(missing_ok=True)
    path.write_bytes(good)
    until(lambda: watched.parts["faults"] == [])
    os.replace(_draft(show, SHOW.replace("opacity = 0.8", "opacity = 0.4")), show)
    until(lambda: watched.parts["faults"] == [] and opacity(watched) == 0.4)


def test_of_two_saves_at_once_the_last_is_shown(watched, tmp_path):
    for value in ("0.31", "0.32", "0.33"):  # of equal length, and within one tick of many a clock
        (tmp_path / "two.show.toml").write_text(SHOW.replace("opacity = 0.8", f"opacity = {value}"))
    until(lambda: opacity(watched) == 0.33)


def test_a_knob_is_seen_and_written_nowhere(studio, tmp_path):
    before = light(studio)
    turn(studio)
    until(lambda: opacity(studio) == 0.25)
    assert light(studio).sum() < before.sum()
    assert (tmp_path / "two.show.toml").read_text() == SHOW
    assert asked(studio, "letgo") == ""
    until(lambda: opacity(studio) == 0.8)
    assert np.array_equal(light(studio), before)


def test_keep_writes_that_one_value(studio, tmp_path):
    turn(studio)
    assert asked(studio, "keep") == ""
    assert (tmp_path / "two.show.toml").read_text() == SHOW.replace("opacity = 0.8", "opacity = 0.25")
    until(lambda: studio.parts["edits"]["count"] == 0)
    assert opacity(studio) == 0.25


def test_undo_takes_the_last_turn_back(studio):
    turn(studio)
    turn(studio, "fade_out", 2.0, cue=1)
    until(lambda: studio.parts["edits"]["count"] == 2)
    assert asked(studio, "undo") == ""
    until(lambda: studio.parts["edits"]["count"] == 1)
    assert opacity(studio) == 0.25
    assert studio.shown.scene.show.text.count("fade_out") == 0


def test_keep_is_refused_once_where_the_file_was_saved_meanwhile(studio, tmp_path):
    """Nothing that somebody else has saved is lost; what is turned stays, and the second time it is meant."""
    show = tmp_path / "two.show.toml"
    turn(studio)
    show.write_text(other := SHOW.replace("Two cues", "Two more cues"))
    assert "saved elsewhere" in asked(studio, "keep")
    assert show.read_text() == other
    assert asked(studio, "keep") == ""
    assert show.read_text() == other.replace("opacity = 0.8", "opacity = 0.25")


def test_keep_makes_no_file_anew_that_was_deleted(watched, tmp_path):
    """What is turned stays, and can be kept once the file is back."""
    show = tmp_path / "two.show.toml"
    turn(watched)
    show.unlink()
    until(lambda: watched.parts["faults"])
    assert "there is no such file" in asked(watched, "keep")
    assert not show.exists()
    show.write_text(SHOW)
    until(lambda: watched.parts["faults"] == [])
    assert watched.parts["edits"]["count"] == 1
    while asked(watched, "keep"):  # the file may seem saved elsewhere until it has been read again
        pass
    assert show.read_text() == SHOW.replace("opacity = 0.8", "opacity = 0.25")


def test_a_disk_that_is_full_costs_nothing(studio, tmp_path, monkeypatch):
    """What stands in the file stays there whole, and what is turned can be kept later (ENOSPC, POSIX.1-2017)."""
    import errno

    def full(handle):
        raise OSError(errno.ENOSPC, "No space left on device")

    turn(studio)
    with monkeypatch.context() as patched:
        patched.setattr(os, "fsync", full)
        assert "No space left on device" in asked(studio, "keep")
    assert (tmp_path / "two.show.toml").read_text() == SHOW
    assert [path.name for path in tmp_path.iterdir() if path.name.endswith(".part")] == []
    assert asked(studio, "keep") == ""


def test_a_file_that_is_protected_stays_as_it_is(studio, tmp_path, monkeypatch):
    """Its folder would let another one take its place. For root no file is protected, so the answer is made up."""
    turn(studio)
    with monkeypatch.context() as patched:
        patched.setattr(os, "access", lambda path, mode: mode != os.W_OK)
        assert "protected against writing" in asked(studio, "keep")
    assert (tmp_path / "two.show.toml").read_text() == SHOW


def test_before_is_the_last_save(studio, tmp_path):
    before = light(studio)
    turn(studio)
    until(lambda: opacity(studio) == 0.25)
    block = studio.block(0, True)
    assert np.array_equal(light_of(block).reshape(-1), before)


def test_a_value_beyond_its_range_is_told_and_not_shown(studio):
    turn(studio, "parameters.strength", 7.0)
    (fault,) = until(lambda: studio.parts["faults"])
    assert "7 is above the most, 1" in fault["found"]
    assert asked(studio, "keep").startswith("Nothing was written")
    asked(studio, "letgo")
    until(lambda: not studio.parts["faults"])


def test_only_what_changed_is_told_again(studio):
    before = studio.parts
    turn(studio)
    until(lambda: opacity(studio) == 0.25)
    assert studio.parts["house"] is before["house"]
    assert studio.parts["cue/1"] is before["cue/1"]
    assert studio.parts["cue/0"] is not before["cue/0"]


def test_knobs_say_what_they_turn(studio):
    knobs = {knob["knob"]: knob for knob in studio.parts["cue/0"]["knobs"]}
    assert list(knobs) == ["parameters.strength", "parameters.tint", "opacity", "fade_in", "fade_out"]
    assert knobs["parameters.strength"] | {"about": ""} == {
        "knob": "parameters.strength", "name": "strength", "kind": "number", "value": 0.5, "unit": "", "about": "",
        "min": 0, "max": 1,
    }  # fmt: skip
    assert knobs["parameters.tint"]["value"] == "#ffd700"  # gold, CSS Color 4
    assert studio.parts["cue/1"]["palette"] == {"name": "dusk", "colours": ["#201040", "#ff8000"]}
    assert tomllib.loads(SHOW)["cue"][1]["fade_in"] == {"bars": 0.5}
    assert {knob["knob"]: knob for knob in studio.parts["cue/1"]["knobs"]}["fade_in"]["unit"] == "bars"


def test_a_frame_that_a_page_stands_on_is_drawn_first(studio):
    """It is the frame of the block, light for light."""
    studio.frames_seen = lambda: {5, 61, 10**6}
    turn(studio)
    until(lambda: opacity(studio) == 0.25)
    until(lambda: not studio.store.left)
    assert sorted(studio.stills) == [5, 61]
    for frame, still in studio.stills.items():
        block = light(studio, frame // 20).reshape(20, -1)
        assert np.array_equal(np.frombuffer(still.light, np.uint8), block[frame % 20])


def test_versions_that_are_past_leave_memory(studio):
    """Without the collector's help: it would come late while saves come often."""
    import gc
    import weakref

    gone = []
    gc.disable()
    try:
        for value in (0.1, 0.2, 0.3, 0.4, 0.5, 0.6):
            studio.turn(Turned(0, "opacity", value))
            until(lambda value=value: opacity(studio) == value)
            gone.append(weakref.ref(studio.shown))
        # What is shown, and what is looked at a second time until it is past.
        until(lambda: not studio.store.left and sum(version() is not None for version in gone) <= 2)
    finally:
        gc.enable()
