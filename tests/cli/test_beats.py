"""``eavesong beats`` as people type it: readings, choices, pictures, clicks, and what it says of each."""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

import numpy as np
import pytest
import soundfile

from eavesong.music import BeatGrid, Reading, Section, Wishes, read_grid, write_beats, write_sections
from eavesong.music.jams import read_jams
from eavesong.music.made_for import made_for

SECONDS = 12.0


def even(bpm: float, metre: int = 4, first: float = 0.5) -> BeatGrid:
    times = tuple(float(time) for time in np.arange(first, SECONDS, 60 / bpm))
    edges = (0.0, times[metre], times[min(3 * metre, len(times) - 1)], SECONDS)
    sections = tuple(Section(a, b, label) for a, b, label in zip(edges, edges[1:], "ABC", strict=False))
    return BeatGrid(times, tuple(k % metre + 1 for k in range(len(times))), sections, SECONDS)


def reading(grid: BeatGrid, confidence: float, about: str) -> Reading:
    """Half as sure in the second half of the song."""
    sure = tuple(confidence if time < SECONDS / 2 else confidence / 2 for time in grid.times)
    return Reading(grid, confidence, sure, about)


READINGS = (reading(even(120), 0.93, ""), reading(even(60), 0.31, "half the tempo"))


@pytest.fixture
def heard(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> list[Wishes]:
    """Two readings of every song, and the wishes that each listening was given."""
    asked: list[Wishes] = []

    def track(powers: object, ear: object, wishes: Wishes = Wishes()) -> tuple[Reading, ...]:  # noqa: B008
        asked.append(wishes)
        wished = even(wishes.tempo or 120, wishes.metre or 4, wishes.first_downbeat or 0.5)
        return READINGS if wishes == Wishes() else (reading(wished, 0.7, ""), READINGS[1])

    monkeypatch.setenv("EAVESONG_CACHE", str(tmp_path / "cache"))
    monkeypatch.setattr("eavesong.music.track.track", track)
    return asked


@pytest.fixture
def song(tmp_path: Path) -> Path:
    path = tmp_path / "song.wav"
    soundfile.write(path, 0.1 * np.sin(np.arange(round(SECONDS * 8000))), 8000)
    return path


def line(out: str, word: str) -> str:
    return next(line for line in out.splitlines() if line.startswith(word))


def test_it_says_how_sure_it_is_of_the_song_and_of_each_section(eavesong, song, heard) -> None:
    ended = eavesong("beats", song)
    assert ended.code == 0
    assert line(ended.out, "how sure") == "how sure  93 %, sure"
    assert line(ended.out, "section").split()[-4:] == ["end", "bars", "sure", "tempo"]
    # A lasts 2 s and B 4 s, of which the last half second is less sure: one beat of eight at half.
    assert [line(ended.out, f"{name} ").split()[-3:-1] for name in "ABC"] == [["93", "%"], ["87", "%"], ["46", "%"]]


@pytest.mark.parametrize(
    ("confidence", "told"),
    [(1.0, "100 %, sure"), (0.9, "90 %, sure"), (0.89, "89 %, fair"), (0.6, "60 %, fair"), (0.59, "59 %, doubtful")],
)
def test_the_words_are_those_of_the_manual(eavesong, song, heard, monkeypatch, confidence: float, told: str) -> None:
    monkeypatch.setattr("eavesong.music.track.track", lambda *_: (reading(even(120), confidence, ""),))
    assert line(eavesong("beats", song).out, "how sure") == f"how sure  {told}"
    manual = " ".join((Path(__file__).parents[2] / "docs" / "music.md").read_text().split())
    assert "*sure* from 90 %, *fair* from 60 %, *doubtful* below" in manual


def test_events_are_counted_written_and_mended(eavesong, song, heard, tmp_path) -> None:
    ended = eavesong("beats", song, "--events", tmp_path / "song.events")
    assert ended.code == 0
    assert line(ended.out, "strokes").endswith("high")
    assert "phrase" in (tmp_path / "song.events").read_text()
    (tmp_path / "song.events").write_text("2.5 low 0.5\n4 hit\n")
    again = eavesong("beats", song, "--out", tmp_path / "song.jams")
    assert line(again.out, "strokes").startswith("strokes   1 low, ")
    assert "song.events" in line(again.out, "from")
    assert '"hit"' in (tmp_path / "song.jams").read_text()


def test_other_readings_are_listed_and_can_be_taken(eavesong, song, heard) -> None:
    shown = eavesong("beats", song)
    assert "also heard, to be taken with --reading:\n  2  half the tempo, 60 a minute, 31 %\n" in shown.out
    taken = eavesong("beats", song, "--reading", 2)
    assert line(taken.out, "from") == "from      listening to it, reading 2"
    assert line(taken.out, "tempo") == "tempo     60 beats a minute"
    assert line(taken.out, "how sure") == "how sure  31 %, doubtful"
    assert "  1  the most likely, 120 a minute, 93 %\n" in taken.out
    texts = f"--out {song.with_suffix('.beats')} --sections {song.with_suffix('.sections')}"
    assert f"To keep it:\n  eavesong beats {song} --reading 2 {texts}\n" in taken.out
    assert heard == [Wishes()]  # the second time it was remembered


def test_a_reading_that_is_kept_counts_from_then_on(eavesong, song, heard) -> None:
    kept = eavesong("beats", song, "--reading", 2, "--out", song.with_suffix(".beats"))
    assert "To keep it" not in kept.out
    again = eavesong("beats", song)
    assert line(again.out, "from") == "from      song.beats and song.sections"
    assert line(again.out, "tempo") == "tempo     60 beats a minute"
    assert "how sure" not in again.out  # nothing was guessed


def table(text: str) -> list[list[str]]:
    """Section, kind, start and end of each section that is shown."""
    rows = text[text.index("section  ") :].split("\n\n")[0].splitlines()[1:]
    return [row.split()[:4] for row in rows]


def test_what_comes_next_is_a_first_show_or_a_look_at_the_one_there_is(eavesong, song, heard) -> None:
    assert f"eavesong draft {song}" in eavesong("beats", song).err
    song.with_suffix(".show.toml").write_text("")
    assert f"eavesong check {song.with_suffix('.show.toml')}" in eavesong("beats", song).err


@pytest.mark.parametrize("sections", [False, True])
def test_the_sections_shown_are_those_that_shows_follow(eavesong, song, heard, sections: bool) -> None:
    """Another reading has sections of its own: they count where they are written too, else those that were heard
    first, moved to its bars."""
    texts = ["--out", song.with_suffix(".beats"), *(["--sections", song.with_suffix(".sections")] if sections else [])]
    shown = eavesong("beats", song, "--reading", 2, *texts)
    assert table(shown.out) == table(eavesong("beats", song).out)


def test_sections_that_eavesong_wrote_go_along_with_other_bars(eavesong, song, heard) -> None:
    """They move to the nearest downbeats; those that somebody has changed stay, and are told where bars miss them."""
    texts = ["--out", song.with_suffix(".beats"), "--sections", song.with_suffix(".sections")]
    eavesong("beats", song, *texts)
    shown = eavesong("beats", song, "--first-downbeat", 1.0, "--out", song.with_suffix(".beats"))
    assert "sections to" in shown.out
    assert table(shown.out) == table(eavesong("beats", song).out)
    assert "inside a bar" not in shown.out
    written = song.with_suffix(".sections").read_text()
    song.with_suffix(".sections").write_text(written + "# mine\n")
    shown = eavesong("beats", song, "--first-downbeat", 2.0, "--out", song.with_suffix(".beats"))
    assert song.with_suffix(".sections").read_text() == written + "# mine\n"
    assert "begin inside a bar: B at 0:03.00, 2 beats into bar 1; " in shown.out


def test_sections_of_a_reading_are_kept_with_its_beats(eavesong, song, heard) -> None:
    """They are others than those that are heard by themselves: what was shown is what shows follow."""
    listed = eavesong("beats", song).out
    shown = eavesong("beats", song, "--reading", 2).out
    kept = eavesong("beats", song, "--reading", 2, "--out", song.with_suffix(".beats")).out
    assert f"Wrote 3 sections to {song.with_suffix('.sections')}." in kept
    after = eavesong("beats", song).out
    rows = [[row.split()[:5] for row in out.splitlines() if re.match("[A-Z] ", row)] for out in (shown, kept, after)]
    assert len(rows[0]) == 3
    assert rows[0] == rows[1] == rows[2]
    eavesong("beats", song, "--reading", 1, "--out", song.with_suffix(".beats"))  # what eavesong wrote goes along again
    first = [row.split()[:5] for row in eavesong("beats", song).out.splitlines() if row[:2] in ("A ", "B ", "C ")]
    heard_alone = [row.split()[:5] for row in listed.splitlines() if row[:2] in ("A ", "B ", "C ")]
    assert [row[:3] for row in first] == [row[:3] for row in heard_alone]


def test_sections_that_go_along_take_the_place_of_nothing_else(eavesong, song, heard) -> None:
    beside = song.with_suffix(".sections")
    ended = eavesong("beats", song, "--reading", 2, "--out", song.with_suffix(".beats"), "--events", beside)
    assert ended.code == 2
    assert "Two things cannot be written to one file" in ended.err
    assert not song.with_suffix(".beats").exists()


def test_wishes_reach_the_ear(eavesong, song, heard) -> None:
    ended = eavesong("beats", song, "--tempo", 96, "--metre", 3, "--first-downbeat", "0:00.84")
    assert heard[0] == Wishes(96.0, 3, 0.84)
    assert line(ended.out, "tempo") == "tempo     96 beats a minute"
    assert "--tempo 96 --metre 3 --first-downbeat 0.84 --out" in ended.out


def test_a_reading_near_a_tempo_is_one_of_those_near_it(eavesong, song, heard) -> None:
    """The list that ``--tempo`` prints is another one, and how to choose from it stands there."""
    listed = eavesong("beats", song, "--tempo", 96).out
    assert "also heard, to be taken with --tempo 96 and --reading:\n  2  half the tempo" in listed
    taken = eavesong("beats", song, "--tempo", 96, "--reading", 2).out
    assert line(taken, "from") == "from      listening to it near 96 beats a minute, reading 2 of those near it"


def test_a_reading_is_counted_anew_with_a_metre(eavesong, song, heard) -> None:
    ended = eavesong("beats", song, "--reading", 2, "--metre", 3, "--first-downbeat", 1.6)
    assert line(ended.out, "tempo") == "tempo     60 beats a minute"
    assert line(ended.out, "metre") == "metre     3 beats to the bar"
    assert line(ended.out, "bars").endswith("from 0:01.50 on")
    assert heard[0] == Wishes(None, 3, 1.6)  # among the readings that are told with the same


def test_bars_of_another_length_that_a_metre_leaves_are_told(eavesong, song, heard, monkeypatch) -> None:
    """Nine beats in threes, then one in two, then threes again; the last bar has no end that anybody knows."""
    times = tuple(0.5 + 0.5 * n for n in range(20))
    odd = BeatGrid(times, (*[n % 3 + 1 for n in range(11)], *[n % 3 + 1 for n in range(9)]), (), SECONDS)
    monkeypatch.setattr("eavesong.music.track.track", lambda *given: (reading(odd, 0.9, ""),))
    told = eavesong("beats", song, "--metre", 3).err
    assert "Not of 3 beats: bar 4, after which bars are heard to begin anew." in told
    assert "To count 3 throughout, say where bar 1 begins, too: --first-downbeat 0.50" in told
    assert "Not of" not in eavesong("beats", song).err


def test_a_text_beside_the_song_gives_way_to_a_choice_and_that_is_told(eavesong, song, heard) -> None:
    write_beats(song.with_suffix(".beats"), even(150))
    ended = eavesong("beats", song, "--reading", 1)
    assert line(ended.out, "aside") == "aside     song.beats does not count this time, as beats were chosen"
    assert line(ended.out, "tempo") == "tempo     120 beats a minute"


def test_sections_that_were_written_with_other_beats_give_way_to_a_choice_and_that_is_told(
    eavesong, song, heard
) -> None:
    beats, sections = song.with_suffix(".beats"), song.with_suffix(".sections")
    eavesong("beats", song, "--out", beats, "--sections", sections)
    told = line(eavesong("beats", song, "--reading", 1).out, "aside")
    assert told == "aside     song.beats and song.sections do not count this time, as beats were chosen"
    sections.write_text(sections.read_text().replace("A", "Mine"))  # mended, it counts
    assert "sections" not in line(eavesong("beats", song, "--reading", 1).out, "aside")


def test_events_that_were_written_with_other_beats_go_along_and_that_is_told(eavesong, song, heard) -> None:
    beats, events = song.with_suffix(".beats"), song.with_suffix(".events")
    eavesong("beats", song, "--events", events)
    before = events.read_text()
    events.write_text(before.replace("# ", "# ", 1))  # as it was written: nobody touched it
    told = eavesong("beats", song, "--reading", 1, "--out", beats, "--overwrite").out
    assert line(told, "aside") == "aside     song.events does not count this time, as beats were chosen"
    assert f"events to {events}." in told
    events.write_text("1.0 hit 1\n")  # one's own counts, and stays
    told = eavesong("beats", song, "--reading", 1, "--out", beats, "--overwrite").out
    assert "song.events" in line(told, "from")
    assert events.read_text() == "1.0 hit 1\n"


def test_a_metre_counts_the_beats_of_a_text_anew(eavesong, song, heard) -> None:
    write_beats(song.with_suffix(".beats"), even(150))
    ended = eavesong("beats", song, "--metre", 3, "--out", song.with_suffix(".beats"), "--overwrite")
    grid = read_grid(song.with_suffix(".beats"), None, SECONDS)
    assert grid.times == even(150).times
    assert grid.positions[:4] == (1, 2, 3, 1)
    assert line(ended.out, "from") == "from      song.beats"


def test_a_text_that_was_mended_by_hand_is_replaced_only_where_it_is_said(eavesong, song, heard) -> None:
    text = song.with_suffix(".beats")
    assert eavesong("beats", song, "--out", text).code == 0
    assert eavesong("beats", song, "--metre", 3, "--out", text).code == 0, "nobody has changed it since"
    text.write_text(text.read_text() + "# mended by hand\n")
    before = text.read_bytes()
    refused = eavesong("beats", song, "--metre", 4, "--out", text)
    assert refused.code == 4
    assert "no longer, as eavesong wrote it" in refused.err
    assert text.read_bytes() == before
    told = eavesong("beats", song, "--metre", 4).out
    assert "in place of what was changed by hand in song.beats" in told
    assert told.rstrip().endswith(f"--out {text} --overwrite")


def test_a_text_for_another_sound_stays_one_until_it_is_heard_anew(eavesong, song, heard) -> None:
    """What a text tells is written with the hash that it has; what is heard, with that of the song."""
    other, own = "3f" * 32, hashlib.sha256(song.read_bytes()).hexdigest()
    beats, sections = song.with_suffix(".beats"), song.with_suffix(".sections")
    write_beats(beats, even(150), other)
    write_sections(sections, even(77), other)
    ended = eavesong("beats", song, "--metre", 3, "--out", beats, "--sections", sections, "--overwrite")
    assert [made_for(path.read_text()) for path in (beats, sections)] == [other, other]
    assert "'song.beats' and 'song.sections' were written for another file than song.wav is now" in ended.err
    eavesong("beats", song, "--reading", 1, "--out", beats, "--overwrite")
    assert made_for(beats.read_text()) == own
    write_beats(song.with_name("mine.txt"), even(90), other)
    eavesong("beats", song, "--beats-from", song.with_name("mine.txt"), "--out", beats, "--overwrite")
    assert made_for(beats.read_text()) == own, "chosen for this song"


def test_a_sections_text_counts_whatever_is_chosen(eavesong, song, heard) -> None:
    write_sections(song.with_suffix(".sections"), even(77))
    for words in ((), ("--reading", 2), ("--metre", 3)):
        out = eavesong("beats", song, *words).out
        assert "and song.sections" in line(out, "from")
        assert " 0:03.62 " in line(out, "B ")  # 0.5 s + 4 beats of 60/77 s


def test_beats_come_from_a_text_or_jams_from_anywhere(eavesong, song, heard, tmp_path: Path) -> None:
    (tmp_path / "other").mkdir()
    write_beats(tmp_path / "other" / "mine.txt", even(90, 3))
    ended = eavesong("beats", song, "--beats-from", tmp_path / "other" / "mine.txt", "--out", tmp_path / "a.jams")
    assert line(ended.out, "from") == "from      mine.txt"
    times, positions, sections = read_jams(tmp_path / "a.jams")
    assert (times, positions) == (even(90, 3).times, even(90, 3).positions)
    # Sections heard at 2.5 and 6.5 s move to the nearest downbeats, 2.5 and 6.5 s of 0.5 + 2 k.
    assert [part.start for part in sections] == pytest.approx([0.0, 2.5, 6.5])
    again = eavesong("beats", song, "--beats-from", tmp_path / "a.jams")
    assert line(again.out, "from") == "from      a.jams"
    assert line(again.out, "tempo") == "tempo     90 beats a minute"


def test_a_song_without_beats_says_so(eavesong, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("EAVESONG_CACHE", str(tmp_path / "cache"))
    plain = Reading(even(120), 0.0, (0.0,) * even(120).beat_count, "")
    monkeypatch.setattr("eavesong.music.track.track", lambda *_: (plain,))
    soundfile.write(tmp_path / "silent.wav", np.zeros(80_000), 8000)
    ended = eavesong("beats", tmp_path / "silent.wav")
    assert ended.code == 0
    assert line(ended.out, "how sure") == "how sure  0 %, doubtful"
    assert "\nno beat can be heard: a plain 120 beats a minute stand in\n" in ended.out


def test_picture_and_clicks_are_made(eavesong, song, heard, tmp_path: Path) -> None:
    from PIL import Image

    ended = eavesong("beats", song, "--picture", tmp_path / "a.png", "--click", tmp_path / "a.flac")
    assert ended.code == 0, ended.err
    with Image.open(tmp_path / "a.png") as picture:
        assert picture.size[0] == 2000
    assert soundfile.info(tmp_path / "a.flac").duration == SECONDS
    assert f"Drew {tmp_path / 'a.png'}." in ended.out
    assert f"Wrote the song with clicks to {tmp_path / 'a.flac'}." in ended.out


def test_a_picture_without_a_name_lies_beside_the_song(eavesong, song, heard) -> None:
    assert eavesong("beats", song, "--picture").code == 0
    assert song.with_name("song.beats.png").is_file()


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--reading", 3), "2 readings are known of this song, so there is no reading 3. Write 1 to 2."),
        (("--reading", 0), "0 is not in the range x>=1"),
        (
            ("--tempo", 96, "--beats-from", "a.beats"),
            "--tempo and --beats-from each choose the beats. Give one of them.",
        ),
        (("--beats-from", "b.beats", "--tempo", 96), "--tempo and --beats-from each choose the beats"),
        (("--beats-from", "b.beats", "--reading", 1), "--reading and --beats-from each choose the beats"),
        (("--tempo", 4), "4.0 is not in the range 20.0<=x<=400.0"),
        (("--tempo", "nan"), "is no tempo"),
        (("--metre", 1), "1 is not in the range 2<=x<=16"),
        (("--first-downbeat", "soon"), "'soon' is not a time"),
        (("--first-downbeat", 12.5), "the song is over at 12.00 s, before 12.5 s. Write an earlier time."),
        (("--picture", "a.tiff"), "'a.tiff' ends with neither .png nor .webp"),
        (("--click", "a.mp3"), "'a.mp3' ends with neither .wav nor .flac"),
        (("--sections", "a.jams"), "Write it with --out"),
        (("--out", "a.x", "--sections", "a.x"), "Two things cannot be written to one file"),
    ],
)
def test_what_cannot_be_is_typed_wrongly(eavesong, song, heard, words, told: str) -> None:
    ended = eavesong("beats", song, *words)
    assert ended.code == 2
    assert told in ended.err


@pytest.mark.parametrize("option", ["--out", "--sections", "--click"])
def test_the_song_itself_is_never_written_over(eavesong, song, heard, option: str) -> None:
    before = song.read_bytes()
    ended = eavesong("beats", song, option, song)
    assert ended.code == 2
    assert "is the song itself" in ended.err
    assert song.read_bytes() == before


def test_a_folder_is_no_song(eavesong, heard) -> None:
    ended = eavesong("beats", ".", "--picture")
    assert ended.code == 3
    assert ".: is not a file" in ended.err


def test_a_file_of_beats_that_is_missing_is_told(eavesong, song, heard, tmp_path: Path) -> None:
    ended = eavesong("beats", song, "--beats-from", tmp_path / "no.jams")
    assert ended.code == 3
    assert "there is no such file" in ended.err
