"""Listening once, remembering, and giving way to texts."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from eavesong.errors import AudioError, BeatsError
from eavesong.files import user_cache
from eavesong.music import BeatGrid, Heard, Section, beats_for, hear, listen, write_beats, write_sections
from eavesong.music.reading import Reading
from eavesong.music.signals import NAMES

from .conftest import clicks


@pytest.fixture
def song(write: Callable[..., Path]) -> Path:
    return write("song.wav", clicks(np.arange(0.5, 12, 0.5), 12.5))


def kept_files() -> list[Path]:
    return sorted((user_cache() / "songs").glob("*"))


def same(one: Heard, other: Heard) -> bool:
    signals = [(getattr(one.signals, name), getattr(other.signals, name)) for name in (*NAMES, "spectrum")]
    facts = (one.grid, one.duration, one.audio_hash) == (other.grid, other.duration, other.audio_hash)
    return facts and all(a.dtype == b.dtype and np.array_equal(a, b) for a, b in signals)


def test_a_song_is_analysed_once_and_remembered_to_the_last_bit(song: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first = listen(song)
    assert [path.name for path in kept_files()] == [f"{first.audio_hash}.npz"]
    monkeypatch.setattr("eavesong.music.listening._analyse", None)  # would fail if it were called
    assert same(listen(song), first)


def test_the_same_sound_under_another_name_is_known(song: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first = listen(song)
    moved = song.rename(song.with_name("other.wav"))
    monkeypatch.setattr("eavesong.music.listening._analyse", None)
    assert same(listen(moved), first)


def test_without_cache_nothing_is_kept(song: Path) -> None:
    heard = listen(song, cache=False)
    assert kept_files() == []
    assert heard.duration == 12.5
    assert len(heard.signals.loudness) == 1251


def test_a_damaged_entry_is_found_out_and_made_again(write: Callable[..., Path]) -> None:
    song = write("song.wav", clicks(np.arange(0.5, 5, 0.5), 5.5))
    first = listen(song)
    kept = kept_files()[0]
    whole = kept.read_bytes()
    for damage in ("cut", "flipped", "empty", "other", "version"):
        with pytest.MonkeyPatch.context() as patch:
            if damage == "version":
                patch.setattr("eavesong.music.listening.fingerprint", lambda module: "0" * 64)
            elif damage == "other":
                np.savez(kept, version=1)
            else:
                middle = len(whole) // 2
                flipped = whole[:middle] + bytes([whole[middle] ^ 255]) + whole[middle + 1 :]
                kept.write_bytes({"cut": whole[:middle], "flipped": flipped, "empty": b""}[damage])
            assert same(listen(song), first), damage
            assert len(kept.read_bytes()) == len(whole), damage


def test_a_known_song_is_heard_without_loading_anything_heavy(song: Path) -> None:
    listen(song)
    code = (
        "import sys; from eavesong.music import beats_for, hear, listen; listen(sys.argv[1]); beats_for(sys.argv[1]);"
        "print(sorted({'librosa', 'numba', 'scipy', 'soundfile', 'av'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code, str(song)], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


SECTIONS = (Section(0.0, 2.25, "verse", "quiet"), Section(2.25, 12.5, "chorus", "high"))
GRID = BeatGrid((0.25, 1.25, 2.25, 3.25), (1, 2, 1, 2), SECTIONS, 12.5)


def test_texts_beside_the_song_win_over_what_is_heard(song: Path) -> None:
    write_beats(song.with_suffix(".beats"), GRID)
    write_sections(song.with_suffix(".sections"), GRID)
    assert beats_for(song) == GRID


def test_texts_that_are_named_win_over_those_beside_the_song(song: Path, tmp_path: Path) -> None:
    song.with_suffix(".beats").write_text("1 1\n2 2\n3 1\n")
    song.with_suffix(".sections").write_text("0 9 other\n")
    write_beats(tmp_path / "mine.txt", GRID)
    write_sections(tmp_path / "mine.sections.txt", GRID)
    assert beats_for(song, tmp_path / "mine.txt", tmp_path / "mine.sections.txt") == GRID


def test_kinds_that_a_text_leaves_open_are_heard(write: Callable[..., Path]) -> None:
    beats = np.arange(0.5, 24, 0.5)
    song = write("song.wav", clicks(beats, 24.0) * np.where(np.arange(24 * 44_100) < 12 * 44_100, 0.03, 1.0))
    song.with_suffix(".sections").write_text("0 6 one (break)\n6 12 two\n12 24 three\n")
    assert [part.kind for part in beats_for(song).sections] == ["break", "quiet", "high"]


def test_without_texts_it_is_what_is_heard(song: Path) -> None:
    assert beats_for(song) == listen(song).grid


def test_heard_sections_are_moved_to_the_downbeats_of_a_beats_text(song: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    heard = listen(song)
    sections = (Section(0.0, 2.0, "A", "high"), Section(2.0, 2.5, "B", "break"), Section(2.5, 12.5, "C", "end"))
    grid = BeatGrid(heard.grid.times, heard.grid.positions, sections, 12.5)
    readings = (Reading(grid, 1.0, (1.0,) * grid.beat_count, ""),)
    known = Heard(heard.signals, 12.5, heard.audio_hash, heard.sketch, readings)
    monkeypatch.setattr("eavesong.music.listening.listen", lambda _: known)
    write_beats(song.with_suffix(".beats"), GRID)
    assert beats_for(song).times == GRID.times
    # Both boundaries are nearest to 2.25 s: the first to get there stays.
    assert beats_for(song).sections == (Section(0.0, 2.25, "A", "high"), Section(2.25, 12.5, "B", "break"))


def test_a_sections_text_alone_goes_with_the_beats_that_are_heard(song: Path) -> None:
    write_sections(song.with_suffix(".sections"), GRID)
    grid = beats_for(song)
    assert grid.sections == GRID.sections
    assert grid.times == listen(song).grid.times


def test_a_bad_text_beside_the_song_is_an_error_not_passed_over(song: Path) -> None:
    song.with_suffix(".beats").write_text("1 1\nx 2\n")
    with pytest.raises(BeatsError, match=r"song\.beats, line 2: 'x' is not a time"):
        beats_for(song)


def test_a_text_that_is_named_must_be_there(song: Path) -> None:
    with pytest.raises(BeatsError, match=r"mine\.beats: there is no such file"):
        beats_for(song, song.with_name("mine.beats"))


def test_a_song_that_is_missing_is_an_audio_error(tmp_path: Path) -> None:
    with pytest.raises(AudioError, match="there is no such file"):
        listen(tmp_path / "song.wav")


def test_a_damaged_song_leaves_nothing_in_the_cache(song: Path) -> None:
    song.write_bytes(song.read_bytes()[:-10000])
    with pytest.raises(AudioError, match="ends after"):
        listen(song)
    assert kept_files() == []


def test_a_song_with_both_texts_is_heard_but_not_tracked(song: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("eavesong.music.track.track", lambda *_: pytest.fail("the beats are known"))
    write_beats(song.with_suffix(".beats"), GRID)
    write_sections(song.with_suffix(".sections"), GRID)
    assert beats_for(song).times == GRID.times
    assert hear(song).duration == beats_for(song).duration


def test_what_was_only_heard_is_tracked_when_it_is_listened_to(song: Path) -> None:
    signals = hear(song).signals
    heard = listen(song)
    assert heard.grid.beat_count > 1
    assert np.array_equal(heard.signals.loudness, signals.loudness)
    assert hear(song).audio_hash == heard.audio_hash
