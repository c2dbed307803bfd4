"""``eavesong play``: what is refused before anything is sent."""

import pytest

from eavesong.playback import session
from eavesong.playback.stop import Stop
from playback.helpers import house, moving, write_frames


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--offset", "20000"], "Write milliseconds between -10000 and 10000."),
        (["--interface", "eth0"], "'eth0' is not an IPv4 address."),
        (["--dry-run"], "--now, --dry-run and --layout are for setlists"),
        (["--priority", "201"], "0<=x<=200"),  # E1.31-2018, 6.2.3: 0 to 200
        (["--sync", "64000"], "0<=x<=63999"),  # E1.31-2018, 6.2.7: 1 to 63999; 0 for none (6.2.4)
    ],
)
def test_what_is_typed_wrongly_ends_with_2(eavesong, tmp_path, words, told):
    ended = eavesong("play", tmp_path / "frost.h5", *words)
    assert ended.code == 2
    assert told in ended.err


@pytest.mark.parametrize(("text", "seconds"), [("bar 3", 2.0), ("Bar 1", 0.0), ("0:01.5", 1.5)])
def test_a_song_begins_at_a_moment_or_a_bar(eavesong, tmp_path, monkeypatch, text, seconds):
    """Bars of two beats, two beats a second."""
    started = []
    monkeypatch.setattr(session, "play", lambda *_, start, **others: started.append(start) or Stop())
    described = house()
    frames = write_frames(tmp_path / "frost.h5", described, moving(described, 88))
    assert eavesong("play", frames, "--from", text).code == 0
    assert started == [seconds]
    assert "Write 'bar 1' to 'bar 3'." in eavesong("play", frames, "--from", "bar 9").err


def test_an_evening_begins_at_no_bar(eavesong, tmp_path):
    (tmp_path / "december.toml").write_text("[[song]]\nsong = 'frost.flac'\n")
    refused = eavesong("play", tmp_path / "december.toml", "--from", "bar 3")
    assert (refused.code, "An evening plays whole songs." in refused.err) == (2, True)


def test_an_offset_in_seconds_is_doubted(eavesong, tmp_path):
    assert "for seconds write 500." in eavesong("play", tmp_path / "frost.h5", "--offset", "0.5").err
    assert "for seconds" not in eavesong("play", tmp_path / "frost.h5", "--offset", "40").err


def test_frames_that_are_not_there_end_with_3(eavesong, tmp_path):
    ended = eavesong("play", tmp_path / "frost.h5", "--silent")
    assert ended.code == 3
    assert "frost.h5" in ended.err


def test_lines_are_appended_to_no_file_but_a_log(eavesong, tmp_path):
    (tmp_path / "house.toml").write_text("title = 'House'\n")
    ended = eavesong("play", tmp_path / "frost.h5", "--log", tmp_path / "house.toml")
    assert ended.code == 2
    assert "is no log of eavesong" in ended.err
    assert "is a folder" in eavesong("play", tmp_path / "frost.h5", "--log", tmp_path).err
    (tmp_path / "play.jsonl").write_text('{"event": "end"}\n')
    assert eavesong("play", tmp_path / "frost.h5", "--log", tmp_path / "play.jsonl").code == 3, "no frames there"


def test_a_song_that_is_not_there_is_told_with_the_nearest_one(eavesong, tmp_path):
    (tmp_path / "Midnight Snow.mp3").touch()
    ended = eavesong("play", tmp_path / "frost.h5", "--song", tmp_path / "midnight snow.mp3")
    assert ended.code == 2
    assert "midnight snow.mp3'. Did you mean 'Midnight Snow.mp3'?" in ended.err
