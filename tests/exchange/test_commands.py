"""The commands, as somebody types them."""

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner

from eavesong.cli import group
from eavesong.errors import EavesongError
from eavesong.files import shipped
from eavesong.music.made_for import made_for
from eavesong.music.sound import sound_hash


def run(*arguments):
    return CliRunner().invoke(group, [str(each) for each in arguments])


def test_pack_and_unpack_say_what_they_do(packed, tmp_path):
    folder, song = packed
    result = run("pack", folder / "a.show.toml", "--out", tmp_path / "a.pack.zip", "--no-picture")
    assert result.exit_code == 0, result.output
    assert "nothing of the song's sound" in result.output
    sound, rate = soundfile.read(song.path)
    soundfile.write(tmp_path / "mine.flac", np.concatenate([np.zeros((rate, 2)), sound]), rate)
    house = shipped("layouts") / "bungalow.toml"
    result = run(
        "unpack", tmp_path / "a.pack.zip", "--song", tmp_path / "mine.flac", "--layout", house, "--to", tmp_path / "to"
    )
    assert result.exit_code in (0, 1), result.output
    for said in ("by Ada Example", "may be used: CC BY 4.0", "starts 1.00 s later", "how sure:  sure", "cue 1"):
        assert said in result.output


def test_beats_are_taken_to_another_copy(packed, tmp_path):
    _, song = packed
    sound, rate = soundfile.read(song.path)
    soundfile.write(tmp_path / "other.wav", sound[rate:], rate)
    result = run("align", song.beats_path, "--from", song.path, "--to", tmp_path / "other.wav")
    assert result.exit_code == 1, result.output
    assert "1.00 s into it" in result.output
    assert "bar 2 is bar 1, and so on" in result.output  # the first downbeat is cut off, so what is left is a pick-up
    told, line, *_ = (tmp_path / "other.beats").read_text().splitlines()
    assert made_for(told) == sound_hash(tmp_path / "other.wav")
    assert f"Only beats were taken along: {song.sections_path.name} is still for {song.path.name}" in result.output
    first = float(line.split()[0])
    assert min(abs(first + 1 - time) for time in song.grid.times) < 0.005


@pytest.mark.parametrize("command", ["pack", "align"])
def test_what_is_there_stays(packed, tmp_path, command):
    folder, song = packed
    there = tmp_path / "there"
    there.write_text("mine")
    given = {"pack": (folder / "a.show.toml",), "align": (song.beats_path, "--from", song.path, "--to", song.path)}
    with pytest.raises(EavesongError, match="is there already"):
        CliRunner().invoke(group, [command, *map(str, given[command]), "--out", str(there)], catch_exceptions=False)
    assert there.read_text() == "mine"
