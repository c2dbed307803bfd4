"""The commands, as somebody types them."""

import shutil

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner

from eavesong.cli import group
from eavesong.errors import EavesongError
from eavesong.files import shipped
from eavesong.music.made_for import made_for, made_for_line
from eavesong.music.sound import sound_hash
from eavesong.music.texts import read_events, read_sections


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


def test_sections_that_cues_name_and_nobody_packed_are_told(packed, tmp_path):
    """Of song and show only the sound is kept: what is heard in it has labels of its own."""
    _, song = packed
    (tmp_path / "a.wav").write_bytes(song.path.read_bytes())
    (tmp_path / "a.show.toml").write_text(
        'song = "a.wav"\n[[cue]]\neffect = "plain"\nsections = "Strophe"\n[[cue]]\neffect = "plain"\n'
    )
    assert run("pack", tmp_path / "a.show.toml", "--no-picture").exit_code == 0
    result = run("unpack", tmp_path / "a.pack.zip", "--song", song.path, "--to", tmp_path / "to")
    assert result.exit_code == 1
    assert "no section is called 'Strophe', which cue 1 names" in result.output


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
    assert made_for((tmp_path / "other.sections").read_text()) == sound_hash(tmp_path / "other.wav")
    carried, before = read_sections(tmp_path / "other.sections"), read_sections(song.sections_path)
    assert [part.label for part in carried] == [part.label for part in before]
    assert carried[2].start == pytest.approx(before[2].start - 1, abs=0.005)
    first = float(line.split()[0])
    assert min(abs(first + 1 - time) for time in song.grid.times) < 0.005


def test_beats_are_taken_to_another_master_in_their_place(packed, tmp_path):
    """As the advice on a text for another file has it: the song was replaced, and its text is replaced, too."""
    _, song = packed
    sound, rate = soundfile.read(song.path)
    soundfile.write(tmp_path / "a.wav", np.concatenate([np.zeros((rate // 2, 2)), sound]), rate)
    (tmp_path / "a.beats").write_text(song.beats_path.read_text())
    (tmp_path / "a.events").write_text("1.0\thit\t0.5\n")
    shutil.copy(song.path, tmp_path / "old.wav")
    words = ("align", tmp_path / "a.beats", "--from", tmp_path / "old.wav", "--to", tmp_path / "a.wav")
    refused = CliRunner().invoke(group, list(map(str, words)))
    assert "Say --overwrite to have it replaced" in str(refused.exception)
    done = run(*words, "--overwrite")
    assert done.exit_code == 0
    assert "The texts as they were lie beside old.wav now" in done.output
    assert "Seconds are others there: 0:00.00 is 0:00.50. Take a show with 'times' along" in done.output
    assert (tmp_path / "old.beats").read_text() == song.beats_path.read_text()
    assert (tmp_path / "old.events").read_text() == "1.0\thit\t0.5\n"
    assert float((tmp_path / "a.beats").read_text().splitlines()[1].split()[0]) == pytest.approx(
        song.grid.times[0] + 0.5, abs=0.005
    )
    assert read_events(tmp_path / "a.events").items[0].time == pytest.approx(1.5, abs=0.005)
    assert not (tmp_path / "a.sections").exists()


def test_sections_alone_are_taken_along_by_the_beats_that_are_heard(packed, tmp_path):
    _, song = packed
    sound, rate = soundfile.read(song.path)
    soundfile.write(tmp_path / "a.wav", np.concatenate([np.zeros((rate // 2, 2)), sound]), rate)
    (tmp_path / "a.sections").write_text(song.sections_path.read_text())
    before = read_sections(song.sections_path)
    shutil.copy(song.path, tmp_path / "old.wav")
    (tmp_path / "old.sections").write_text("0\tanother\n")
    words = ("align", tmp_path / "a.sections", "--from", tmp_path / "old.wav", "--to", tmp_path / "a.wav")
    result = run(*words, "--overwrite")
    assert (tmp_path / "old.sections").read_text() == "0\tanother\n"
    assert result.exit_code in (0, 1), result.output  # bars are counted anew where a pick-up came before them
    carried = [part for part in read_sections(tmp_path / "a.sections") if part.label != "new"]
    assert [part.label for part in carried] == [part.label for part in before]
    assert carried[2].start == pytest.approx(before[2].start + 0.5, abs=0.005)
    assert not (tmp_path / "a.beats").exists()


def test_a_text_of_another_file_is_not_taken_along_without_a_word(packed, tmp_path):
    """--from and --to exchanged, and a text that is of neither."""
    _, song = packed
    sound, rate = soundfile.read(song.path)
    soundfile.write(tmp_path / "a.wav", sound[rate // 2 :], rate)
    text = tmp_path / "a.beats"
    words = ("align", text, "--from", song.path, "--to", tmp_path / "a.wav", "--out", tmp_path / "b.beats")
    text.write_text(made_for_line(sound_hash(tmp_path / "a.wav")) + song.beats_path.read_text())
    refused = CliRunner().invoke(group, list(map(str, words)))
    assert "Were --from and --to exchanged?" in str(refused.exception)
    assert not (tmp_path / "b.beats").exists()
    text.write_text(made_for_line("0" * 64) + song.beats_path.read_text())
    told = run(*words)
    assert told.exit_code == 1
    assert "'a.beats' was written for another file than" in told.output


def test_a_pack_for_another_song_than_the_shows_own_says_so(packed, tmp_path):
    folder, song = packed
    (tmp_path / "other.wav").write_bytes(song.path.read_bytes())
    told = run(
        "pack", folder / "a.show.toml", "--song", tmp_path / "other.wav", "--out", tmp_path / "a.zip", "--no-picture"
    )
    assert "It is packed for 'other.wav'; the show's own song is" in told.output


@pytest.mark.parametrize("command", ["pack", "align"])
def test_what_is_there_stays(packed, tmp_path, command):
    folder, song = packed
    there = tmp_path / "there"
    there.write_text("mine")
    given = {"pack": (folder / "a.show.toml",), "align": (song.beats_path, "--from", song.path, "--to", song.path)}
    with pytest.raises(EavesongError, match="is there already"):
        CliRunner().invoke(group, [command, *map(str, given[command]), "--out", str(there)], catch_exceptions=False)
    assert there.read_text() == "mine"
