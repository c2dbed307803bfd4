"""``eavesong render`` as people type it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from eavesong.frames import open_frames

HOUSE = """
title = "Two arches"
[[prop]]
name = "arch"
shape = "arch"
width = 1.5
height = 0.7
pixels = 20
repeat = { count = 2, step = [1.6, 0, 0] }
tags = ["ground"]
"""
SHOW = """
title = "Short"
song = "song.wav"
[[cue]]
effect = "runners"
on = "ground"
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A house, a show, and three seconds of clicks at 120 beats a minute, in the folder one stands in."""
    import soundfile

    sound = np.zeros(3 * 8000)
    sound[::4000] = 0.9
    soundfile.write(tmp_path / "song.wav", sound, 8000)
    (tmp_path / "song.beats").write_text("".join(f"{n / 2}\t{n % 4 + 1}\n" for n in range(6)))
    (tmp_path / "song.sections").write_text("0\t3\tverse\n")
    (tmp_path / "house.toml").write_text(HOUSE)
    (tmp_path / "a.show.toml").write_text(SHOW)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_a_song_is_rendered_and_said_in_one_line(eavesong, folder: Path) -> None:
    ended = eavesong("render", "a.show.toml", "--layout", "house.toml", "--out", "a.h5")
    assert ended.code == 0, ended.err
    assert ended.out.endswith("a.h5: 120 frames at 40 a second, 40 pixels, 1 cue\n")
    with open_frames("a.h5") as file:
        assert file.frames[:].shape == (120, 120)
        assert file.frames[:].any()


def test_times_are_seconds_or_minutes_and_seconds(eavesong, folder: Path) -> None:
    whole = eavesong("render", "a.show.toml", "-l", "house.toml", "-o", "whole.h5", "-q")
    assert (whole.code, whole.out) == (0, "")
    ended = eavesong("render", "a.show.toml", "-l", "house.toml", "-o", "part.h5", "--from", "0:01", "--to", "1.5")
    assert "20 frames" in ended.out
    with open_frames("whole.h5") as one, open_frames("part.h5") as other:
        np.testing.assert_array_equal(one.frames[40:60], other.frames[:])
        assert other.start == 1.0


@pytest.mark.parametrize(("stop", "told"), [("0:05", True), ("3", False), ("0:01", False)])
def test_an_end_after_the_songs_is_told(eavesong, folder: Path, stop: str, told: bool) -> None:
    ended = eavesong("render", "a.show.toml", "-l", "house.toml", "-o", "a.h5", "--from", "0.5", "--to", stop)
    assert (f"--to {stop} is after the song's end: the frames go on to 0:03.0" in ended.err) is told


@pytest.mark.parametrize(
    ("option", "value", "code", "told"),
    [
        ("--from", "soon", 2, "'soon' is not a time. Write seconds (83.5) or minutes and seconds (1:23.5)."),
        ("--from", "5", 3, "there are no frames between 5 s and 3 s of a song of 3.0 s"),
        ("--fps", "0", 3, "Choose from 1 to 240."),
        ("--props", "arhc", 3, "no prop is called or tagged 'arhc'\n    Did you mean 'arch'?"),
        ("--song", "sang.wav", 3, "Did you mean 'song.wav'?"),
        ("--workers", "0", 2, "--workers"),
    ],
)
def test_what_cannot_be_rendered_is_told_and_nothing_is_written(
    eavesong, folder: Path, option: str, value: str, code: int, told: str
) -> None:
    ended = eavesong("render", "a.show.toml", "-l", "house.toml", "-o", "a.h5", option, value)
    assert ended.code == code
    assert told in ended.err
    assert "Traceback" not in ended.err
    assert not list(folder.glob("*.h5*"))


def test_a_place_that_cannot_be_written_is_4(eavesong, folder: Path) -> None:
    ended = eavesong("render", "a.show.toml", "-l", "house.toml", "-o", "nowhere/a.h5")
    assert ended.code == 4
    assert "cannot be written: No such file or directory\n    Make the folder first, or write elsewhere." in ended.err


def test_problems_of_show_and_house_are_told_together(eavesong, folder: Path) -> None:
    Path("a.show.toml").write_text(SHOW.replace("runners", "runers"))
    Path("house.toml").write_text(HOUSE.replace("pixels = 20", "pixels = 0"))
    ended = eavesong("render", "a.show.toml", "-l", "house.toml", "-o", "a.h5")
    assert ended.code == 3
    assert "no effect is called 'runers'\n    Did you mean 'runners'?" in ended.err
    assert "house.toml, line 8" in ended.err
    assert not list(folder.glob("*.h5*"))


def test_frames_of_another_show_that_were_there_are_told(eavesong, folder: Path) -> None:
    Path("b.show.toml").write_text(SHOW)
    assert "were there before" not in eavesong("render", "a.show.toml", "-l", "house.toml", "-o", "a.h5").err
    assert "were there before" not in eavesong("render", "a.show.toml", "-l", "house.toml", "-o", "a.h5").err
    ended = eavesong("render", "b.show.toml", "-l", "house.toml", "-o", "a.h5")
    assert "the frames that were there before were made from 'a.show.toml'" in ended.err


@pytest.mark.parametrize(
    ("out", "told"), [("a.mp4", "a film is made of them by 'eavesong preview'"), ("a.toml", "end with .h5.")]
)
def test_frames_are_written_to_no_file_of_another_kind(eavesong, folder: Path, out: str, told: str) -> None:
    ended = eavesong("render", "a.show.toml", "-l", "house.toml", "-o", out)
    assert ended.code == 2
    assert told in ended.err
    assert not Path(out).exists()


def test_a_song_in_place_of_a_show_is_told_as_what_it_is(eavesong, folder: Path) -> None:
    Path("snow.mp3").write_bytes(b"\xff\xfb\x90")
    assert (
        "snow.mp3: is a song, where a text belongs"
        in eavesong("render", "snow.mp3", "-l", "house.toml", "-o", "a.h5").err
    )
