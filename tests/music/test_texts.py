"""Beat and section texts: read, written, and shared with other tools."""

from __future__ import annotations

import contextlib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from eavesong.errors import BeatsError
from eavesong.music.events import LABELS as EVENT_LABELS
from eavesong.music.events import Event, Events
from eavesong.music.grid import BeatGrid, Section
from eavesong.music.kinds import KINDS
from eavesong.music.texts import read_events, read_grid, read_sections, write_beats, write_events, write_sections

SECTIONS = (Section(0.0, 2.0, "intro"), Section(2.0, 4.1, "last verse", "high"))
GRID = BeatGrid((0.1, 0.6, 1.1 / 3 + 1, 2.0, 2.5), (3, 1, 2, 3, 1), SECTIONS, 4.1)


def beats_text(folder: Path, text: str) -> Path:
    path = folder / "song.beats"
    path.write_text(text, encoding="utf-8")
    return path


def test_what_is_written_is_read_again_to_the_last_digit(tmp_path: Path) -> None:
    write_beats(tmp_path / "song.beats", GRID)
    write_sections(tmp_path / "song.sections", GRID)
    assert read_grid(tmp_path / "song.beats", tmp_path / "song.sections", 4.1) == GRID


def test_mir_eval_reads_both_texts(tmp_path: Path) -> None:
    import mir_eval

    write_beats(tmp_path / "song.beats", GRID)
    write_sections(tmp_path / "song.sections", GRID)
    times, positions = mir_eval.io.load_labeled_events(str(tmp_path / "song.beats"))
    intervals, labels = mir_eval.io.load_labeled_intervals(str(tmp_path / "song.sections"))
    assert times.tolist() == list(GRID.times)
    assert [int(position) for position in positions] == list(GRID.positions)
    assert intervals.tolist() == [[0.0, 2.0], [2.0, 4.1]]
    assert labels == ["intro", "last verse (high)"]
    assert mir_eval.beat.f_measure(times, times) == 1.0  # passes mir_eval's own validation


def test_comments_blank_lines_spaces_and_line_ends_of_any_system(tmp_path: Path) -> None:
    path = tmp_path / "song.beats"
    path.write_bytes("\ufeff# by hand\r\n\r\n  0.5 1\r\n1\t 2\r\n".encode())
    assert read_grid(path, None, 2.0) == BeatGrid((0.5, 1.0), (1, 2), (), 2.0)


def test_times_alone_are_bars_of_four_from_the_first_on(tmp_path: Path) -> None:
    import mir_eval

    path = beats_text(tmp_path, "0.5\n1\n1.5\n2\n2.5\n")
    assert mir_eval.io.load_events(str(path)).tolist() == [0.5, 1, 1.5, 2, 2.5]
    assert read_grid(path, None, 3.0).positions == (1, 2, 3, 4, 1)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("0.5 1\nsoon 2\n", r"line 2: 'soon' is not a time\n    Write seconds"),
        ("0.5 1\n1.0 two\n", "line 2: 'two' is no position in a bar"),
        ("0.5 1\n1.0\n", "line 2: the beat has no position in its bar"),
        ("0.5 1\n1.0 2 loud\n", "line 2: '2 loud' is no position"),
        ("0.5 1\nnan 2\n", "line 2: 'nan' is not a time"),
        ("0.5 1\n1_0 2\n", "line 2: '1_0' is not a time"),
        ("0.5 1\n1e999 2\n", "line 2: the time inf s is not in a song"),
        ("# one\n\n1.0 1\n0.5 2\n", "line 4: 0.5 s does not come after the beat before it, 1 s"),
        ("0.5 1\n1.0 3\n", r"line 2: position 3 follows position 1\n    Write 2 to go on"),
        ("0.5 2\n1.0 3\n", "song.beats: no beat has position 1"),
        ("", "there are 0 beats"),
    ],
)
def test_a_bad_line_is_told_with_its_number(tmp_path: Path, text: str, message: str) -> None:
    with pytest.raises(BeatsError, match=message):
        read_grid(beats_text(tmp_path, text), None, 10.0)


def test_every_bad_line_of_both_texts_is_told_at_once(tmp_path: Path) -> None:
    beats = beats_text(tmp_path, "x 1\n1 y\n2 1\n")
    sections = tmp_path / "song.sections"
    sections.write_text("0 1\n2 1 verse\n")
    with pytest.raises(BeatsError) as caught:
        read_grid(beats, sections, 10.0)
    assert [(Path(problem.file).name, problem.place) for problem in caught.value.problems] == [
        ("song.beats", "line 1"),
        ("song.beats", "line 2"),
        ("song.sections", "line 1"),
        ("song.sections", "line 2"),
    ]


def test_lines_that_do_not_follow_each_other_are_told_beside_those_that_cannot_be_read(tmp_path: Path) -> None:
    beats = beats_text(tmp_path, "0 1\n1 2\n2 0\n3 3\n4,5 1\n5 2\n4 3\n6 x\n7 9\n")
    with pytest.raises(BeatsError) as caught:
        read_grid(beats, None, 10.0)
    told = {problem.place: problem.found for problem in caught.value.problems}
    assert list(told) == ["line 3", "line 5", "line 7", "line 8"]  # nobody knows which beat lay before the fourth
    assert told["line 3"] == "0 is no position in a bar"
    assert told["line 7"] == "4 s does not come after the beat before it, 5 s"
    path = tmp_path / "song.sections"
    path.write_text("0 2 verse\n1 3 chorus\nx 4 verse\n4 3 chorus\n")
    with pytest.raises(BeatsError) as caught:
        read_sections(path)
    assert [problem.place for problem in caught.value.problems] == ["line 2", "line 3", "line 4"]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("0 1\n", "line 1: a section needs three columns"),
        ("0 one verse\n", "line 1: 'one' is not a time"),
        ("0 2 verse\n1 3 chorus\n", "line 2: the section starts at 1 s, inside the one before it"),
        ("2 1 verse\n", "line 1: the section ends at 1 s but starts at 2 s"),
        ("# nothing yet\n", "no section stands in it"),
    ],
)
def test_a_bad_section_is_told_with_its_number(tmp_path: Path, text: str, message: str) -> None:
    path = tmp_path / "song.sections"
    path.write_text(text)
    with pytest.raises(BeatsError, match=message):
        read_sections(path)


@pytest.mark.parametrize(
    ("column", "label", "kind"),
    [
        ("verse", "verse", ""),
        ("verse (quiet)", "verse", "quiet"),
        ("last verse \t(build)", "last verse", "build"),
        ("solo (guitar)", "solo (guitar)", ""),  # other words in brackets belong to the label
        ("solo (guitar) (high)", "solo (guitar)", "high"),
        ("verse(quiet)", "verse(quiet)", ""),
        ("(quiet)", "(quiet)", ""),  # a section needs a label
        ("verse (quiet) again", "verse (quiet) again", ""),
    ],
)
def test_a_kind_in_brackets_behind_the_label(tmp_path: Path, column: str, label: str, kind: str) -> None:
    path = tmp_path / "song.sections"
    path.write_text(f"0 2 {column}\n")
    assert read_sections(path) == (Section(0.0, 2.0, label, kind),)


LABELS = st.text("ab ()x", min_size=1, max_size=12).map(str.strip).filter(lambda text: text and text[0] != "#")


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.tuples(LABELS, st.sampled_from(list(KINDS))), min_size=1, max_size=5))
def test_labels_and_kinds_are_read_as_they_were_written(tmp_path: Path, parts: list[tuple[str, str]]) -> None:
    sections = tuple(Section(float(k), k + 1.0, label, kind) for k, (label, kind) in enumerate(parts))
    write_sections(tmp_path / "song.sections", BeatGrid((0.0, 1.0), (1, 2), sections, 9.0))
    assert read_sections(tmp_path / "song.sections") == sections


def test_a_missing_text_names_the_one_beside_it(tmp_path: Path) -> None:
    beats_text(tmp_path, "1 1\n2 2\n")
    with pytest.raises(BeatsError, match=r"there is no such file\n    Did you mean 'song.beats'"):
        read_grid(tmp_path / "son.beats", None, 10.0)


WORDS = st.sampled_from(["0", "0.5", "1", "2", "1.5", "-1", "nan", "1e9", "#", "\t", " ", "\n", "\r", "\x0c", "a", "٣"])


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150)
@given(st.one_of(st.lists(WORDS, max_size=30).map("".join).map(str.encode), st.binary(max_size=60)))
def test_whatever_stands_in_a_text_only_beats_errors_come_of_it(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "song.beats"
    path.write_bytes(data)
    for read in (lambda: read_grid(path, path, 10.0), lambda: read_grid(path, None, 10.0)):
        with contextlib.suppress(BeatsError):
            assert read().beat_count >= 2


def test_another_kind_of_file_is_one_problem(tmp_path: Path) -> None:
    other = tmp_path / "street.show.toml"
    other.write_text("".join(f"line{number} = {number}\n" for number in range(200)))
    with pytest.raises(BeatsError, match="is no beats text: not one of its lines begins with a time") as told:
        read_grid(other, None, 10.0)
    assert len(told.value.problems) == 1


# --- events ----------------------------------------------------------------------------------------------------------

EVENTS = st.lists(
    st.builds(
        Event,
        st.floats(0, 3000).map(lambda time: round(time, 3)),
        st.sampled_from(EVENT_LABELS),
        st.floats(0, 1).map(lambda strength: round(strength, 3)),
    ),
    max_size=8,
).map(Events.of)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=40)
@given(EVENTS)
def test_events_that_are_written_are_read_again(tmp_path: Path, events: Events) -> None:
    write_events(tmp_path / "song.events", events)
    assert read_events(tmp_path / "song.events") == events


def test_mir_eval_reads_an_events_text(tmp_path: Path) -> None:
    import mir_eval

    write_events(tmp_path / "song.events", Events((Event(1.5, "hit", 0.25), Event(2.0, "low"))))
    times, labels = mir_eval.io.load_labeled_events(str(tmp_path / "song.events"))
    assert (times.tolist(), labels) == ([1.5, 2.0], ["hit\t0.25", "low\t1"])


def test_an_event_without_a_strength_is_as_strong_as_can_be(tmp_path: Path) -> None:
    (tmp_path / "song.events").write_text("# by hand\n\n 3.5  stop-end \n2 hit\n")
    assert read_events(tmp_path / "song.events").items == (Event(2.0, "hit"), Event(3.5, "stop-end"))


def test_every_line_that_is_no_event_is_told(tmp_path: Path) -> None:
    (tmp_path / "song.events").write_text("1 hit\n2\nx low\n3 hti\n4 low 1.5\n5 low loud\n-1 low\n6 low 0.5 7\n")
    with pytest.raises(BeatsError) as caught:
        read_events(tmp_path / "song.events")
    told = [(problem.place, problem.found, problem.instead) for problem in caught.value.problems]
    assert [where for where, _, _ in told] == [f"line {number}" for number in (2, 3, 4, 5, 6, 7, 8)]
    assert told[2][1:] == ("'hti' is no event", "Did you mean 'hit'?")
    assert "no strength" in told[3][1]
