"""Texts that lie beside another sound than the one they were made for, and what is told of them."""

from pathlib import Path

import numpy as np

from eavesong.music.grid import BeatGrid, Section
from eavesong.music.made_for import key_of
from eavesong.music.sound import sound_hash
from eavesong.music.strays import strays, strays_of
from eavesong.music.texts import write_beats, write_sections

HASH = "3f" * 32
GRID = BeatGrid((0.0, 0.5, 1.0, 1.5), (1, 2, 3, 4), (Section(0.0, 2.0, "A"),), 2.0)


def write_song(path: Path, seconds: float = 2.0) -> Path:
    import soundfile

    soundfile.write(path, np.zeros(round(8000 * seconds), np.float32), 8000)
    return path


def test_texts_of_another_sound_are_told_with_what_to_do(tmp_path: Path) -> None:
    song = write_song(tmp_path / "song.wav")
    write_beats(song.with_suffix(".beats"), GRID, sound_hash(song))
    write_sections(song.with_suffix(".sections"), GRID, HASH)
    (told,) = strays_of(song, GRID)
    assert "'song.sections' was written for another file than song.wav is now" in told.found
    assert "eavesong beats song.wav --sections song.sections" in told.instead
    write_song(song, 2.5)
    (told,) = strays_of(song, GRID)  # one command carries over both
    assert told.found.startswith("'song.beats' and 'song.sections' were written for another file than song.wav is now")
    carried = "'eavesong align song.beats --from THE-FILE-AS-IT-WAS --to song.wav --overwrite' carries them all over"
    assert told.instead.startswith(carried)


def test_beats_far_beyond_the_end_are_told_of_a_text_by_hand(tmp_path: Path) -> None:
    song = write_song(tmp_path / "song.wav", 1.2)
    short = BeatGrid(GRID.times, GRID.positions, (), 1.2)
    song.with_suffix(".beats").write_text("0 1\n0.5 2\n1 3\n1.5 4\n")
    assert strays_of(song, short) == ()  # the last beat may lie in silence that was cut off
    late = BeatGrid((*GRID.times, 2.0), (*GRID.positions, 1), (), 1.2)
    (told,) = strays_of(song, late)
    assert told.found == "'song.beats' goes on to 0:02.00, and song.wav ends at 0:01.20"


def test_sections_far_beyond_the_end_are_told(tmp_path: Path) -> None:
    """A digit too many makes a fade at the song's end one that nobody sees."""
    song = write_song(tmp_path / "song.wav")
    for end, told in ((2.0, 0), (2.4, 0), (20.0, 1)):
        long = BeatGrid(GRID.times, GRID.positions, (Section(0.0, 1.0, "A"), Section(1.0, end, "B")), 2.0)
        found = [each.found for each in strays_of(song, long)]
        assert found == ["'song.sections' lets B end at 0:20.00, and song.wav ends at 0:02.00"] * told


def test_nothing_is_told_where_nothing_is_known() -> None:
    assert list(strays({}, GRID, "song.wav")) == []
    assert list(strays({key_of("beats"): HASH}, GRID, "song.wav")) == []
    assert list(strays({key_of("beats"): HASH, "audio": HASH}, GRID, "song.wav")) == []


def test_a_bar_that_was_deleted_from_a_text_is_told(tmp_path: Path) -> None:
    """Bars behind it are counted as if it had never been; a rest of a beat, or beats that slow down, are no gap."""
    song = write_song(tmp_path / "song.wav", 30.0)
    song.with_suffix(".beats").write_text("0 1\n")
    lines = [(0.5 * beat, beat % 4 + 1) for beat in range(56)]

    def told(left: list[tuple[float, int]]) -> list[str]:
        times, positions = zip(*left, strict=True)
        return [f"{each.found}. {each.instead}" for each in strays_of(song, BeatGrid(times, positions, (), 30.0))]

    assert told(lines) == []
    (gap,) = told([*lines[:24], *lines[28:]])
    assert gap.startswith("'song.beats' has no beat between 0:11.50 and 0:14.00. Write the 4 that are missing there")
    (both,) = told([*lines[:24], *lines[28:44], *lines[48:]])
    assert "has no beat between 0:11.50 and 0:14.00, nor at 0:21.50. Write" in both
    assert told([(0.5 * beat + 0.02 * max(0, beat - 20) ** 2, at) for beat, (_, at) in enumerate(lines[:40])]) == []
    assert told([*lines[:24], *((time + 0.5, at) for time, at in lines[24:])]) == []


def test_beats_that_end_long_before_the_song_are_told(tmp_path: Path) -> None:
    """At 120 a minute: sixteen beats, eight seconds, may be a fade."""
    song = write_song(tmp_path / "song.wav", 20.0)
    for count, told in ((39, 0), (25, 0), (22, 1)):
        times = tuple(0.5 * n for n in range(count))
        grid = BeatGrid(times, tuple(n % 4 + 1 for n in range(count)), (), 20.0)
        write_beats(song.with_suffix(".beats"), grid, sound_hash(song))
        assert len(strays_of(song, grid)) == told
    (found,) = strays_of(song, grid)
    assert found.found == "'song.beats' ends at 0:10.50, and song.wav goes on to 0:20.00: some 19 beats are missing"


def test_holes_between_sections_and_slips_in_kinds_are_told(tmp_path: Path) -> None:
    song = write_song(tmp_path / "song.wav", 20.0)
    times = tuple(0.5 * n for n in range(40))
    sections = (Section(0.0, 8.0, "verse (quite)"), Section(12.0, 15.0, "chorus", "high"))
    grid = BeatGrid(times, tuple(n % 4 + 1 for n in range(40)), sections, 20.0)
    assert strays_of(song, grid) == ()  # heard, and nobody's text
    write_sections(song.with_suffix(".sections"), grid, sound_hash(song))
    hole, slip = strays_of(song, grid)
    assert hole.found == "'song.sections' has no section from 0:08.00 to 0:12.00, nor in 1 other place"
    assert slip.instead == "Did you mean (quiet)?"
