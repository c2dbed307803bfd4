"""JAMS: valid for the schema's own library, read as it reads, refused with its place."""

from __future__ import annotations

import contextlib
import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eavesong.errors import BeatsError
from eavesong.music import BeatGrid, Event, Events, Section, read_grid
from eavesong.music.jams import jams_text, read_jams, write_jams

GRID = BeatGrid(
    (0.5, 0.93, 1.4, 1.81, 2.3),
    (2, 1, 2, 3, 1),
    (Section(0.0, 0.93, "intro"), Section(0.93, 2.5, "verse 1", "quiet")),
    2.5,
)


def test_what_is_written_is_valid_and_read_alike_by_the_library_of_the_schema(tmp_path: Path) -> None:
    # jams 0.3.5 checks its schema of JAMS and of each namespace.
    import jams

    write_jams(tmp_path / "a.jams", GRID, "Lantern Walk", (0.5, 0.9, 1.0, 0.25, 0.0))
    read = jams.load(str(tmp_path / "a.jams"), validate=True, strict=True)
    assert (read.file_metadata.title, read.file_metadata.duration) == ("Lantern Walk", 2.5)
    beats, sections = read.annotations
    assert (beats.namespace, sections.namespace) == ("beat", "segment_open")
    assert (beats.time, beats.duration) == (0.0, 2.5)
    assert [(each.time, each.value, each.confidence) for each in beats.data] == [
        (0.5, 2, 0.5), (0.93, 1, 0.9), (1.4, 2, 1.0), (1.81, 3, 0.25), (2.3, 1, 0.0),
    ]  # fmt: skip
    assert [each.value for each in sections.data] == ["intro", "verse 1 (quiet)"]
    assert sections.to_interval_values()[0].ravel().tolist() == pytest.approx([0.0, 0.93, 0.93, 2.5])


def test_events_are_tags_with_their_strength(tmp_path: Path) -> None:
    import jams

    events = Events.of([Event(0.5, "low", 0.75), Event(1.0, "stop", 0.5), Event(1.5, "stop-end"), Event(1.5, "hit")])
    write_jams(tmp_path / "a.jams", GRID, events=events)
    tags = jams.load(str(tmp_path / "a.jams"), validate=True, strict=True).search(namespace="tag_open")[0]
    assert [(each.time, each.duration, each.value, each.confidence) for each in tags.data] == [
        (0.5, 0.0, "low", 0.75), (1.0, 0.5, "stop", 0.5), (1.5, 0.0, "hit", 1.0),
    ]  # fmt: skip


def test_what_that_library_writes_is_read(tmp_path: Path) -> None:
    import jams

    made = jams.JAMS()
    made.file_metadata.duration = 10.0
    for namespace, rows in (
        ("chord", [(0.0, 10.0, "C:maj")]),
        ("beat", [(1.0, 0.0, 3), (1.5, 0.0, 1), (2.0, 0.0, 2)]),
        ("segment_salami_upper", [(0.0, 1.5, "A"), (1.5, 8.5, "B")]),
    ):
        annotation = jams.Annotation(namespace)
        for time, duration, value in rows:
            annotation.append(time=time, duration=duration, value=value, confidence=None)
        made.annotations.append(annotation)
    made.save(str(tmp_path / "b.jams"))
    assert read_grid(tmp_path / "b.jams", None, 10.0) == BeatGrid(
        (1.0, 1.5, 2.0), (3, 1, 2), (Section(0.0, 1.5, "A"), Section(1.5, 10.0, "B")), 10.0
    )


def test_reading_gives_what_was_written(tmp_path: Path) -> None:
    write_jams(tmp_path / "a.jams", GRID)
    read = read_grid(tmp_path / "a.jams", None, 2.5)
    assert (read.times, read.positions) == (GRID.times, GRID.positions)
    assert [(part.label, part.kind) for part in read.sections] == [("intro", ""), ("verse 1", "quiet")]
    assert [part.end for part in read.sections] == pytest.approx([0.93, 2.5])


def test_a_sections_text_wins_over_sections_in_the_file(tmp_path: Path) -> None:
    write_jams(tmp_path / "a.jams", GRID)
    (tmp_path / "a.sections").write_text("0 2.5 all\n")
    assert [part.label for part in read_grid(tmp_path / "a.jams", tmp_path / "a.sections", 2.5).sections] == ["all"]


def file(tmp_path: Path, *annotations: Any) -> Path:
    path = tmp_path / "song.jams"
    path.write_text(json.dumps({"annotations": list(annotations), "file_metadata": {"duration": 9.0}}))
    return path


def beat(time: Any, value: Any = None) -> dict[str, Any]:
    return {"time": time, "duration": 0.0, "value": value, "confidence": None}


def annotation(namespace: str, *data: Any) -> dict[str, Any]:
    return {"namespace": namespace, "annotation_metadata": {}, "data": list(data)}


def test_beats_without_positions_are_in_bars_of_four_in_order_of_time(tmp_path: Path) -> None:
    times = [3.0, 1.0, 2.0, 4.0, 5.0]
    path = file(tmp_path, annotation("beat"), annotation("beat", *(beat(time) for time in times)))
    assert read_jams(path) == ((1.0, 2.0, 3.0, 4.0, 5.0), (1, 2, 3, 4, 1), ())


def test_arrays_and_positions_in_tables_are_read_too(tmp_path: Path) -> None:
    # Both stand in the schema: DenseObservation, and the namespace beat_position.
    values = [{"position": n, "measure": 0, "num_beats": 2, "beat_units": 4} for n in (1, 2)]
    columns = {"time": [0.5, 1.0], "duration": [0.0, 0.0], "value": values, "confidence": [None, None]}
    path = file(tmp_path, {"namespace": "beat_position", "annotation_metadata": {}, "data": columns})
    assert read_jams(path)[:2] == ((0.5, 1.0), (1, 2))


TWO = annotation("beat", beat(1.0, 1), beat(2.0, 2))


@pytest.mark.parametrize(
    ("annotations", "told"),
    [
        ([], ["song.jams: no beats stand in it"]),
        ([annotation("beat", 7, beat(1, 1), beat(2, 2))], ["annotation 1 (beat), observation 1: is no table"]),
        ([{"namespace": "beat", "data": 3}], ["annotation 1 (beat): 'data' is no array of observations"]),
        (
            [annotation("beat", beat("now", 1), beat(2.0, 1.5), beat(None, 2), {"value": 1})],
            [
                "annotation 1 (beat), observation 1: the time 'now' is no number",
                "annotation 1 (beat), observation 2: 1.5 is no position in a bar",
                "annotation 1 (beat), observation 3: the time None is no number",
                "annotation 1 (beat), observation 4: 'time' is missing",
            ],
        ),
        (
            [annotation("beat", beat(1.0, 1), beat(2.0, None))],
            ["annotation 1 (beat), observation 2: null is no position in a bar"],
        ),
        (
            [annotation("beat", beat(5.0, 1), beat(1.0, 3), beat(99_999.0, 2))],
            ["annotation 1 (beat), observation 3: the time 99999 s is not in a song"],
        ),
        ([annotation("beat", beat(1.0, 1))], ["annotation 1 (beat): there are 1 beats"]),
        ([annotation("beat", beat(10**400, 1), beat(1.0, 1))], ["observation 1: the time 1000"]),
        (
            [TWO, annotation("segment_open", beat(0.0, 5), beat(1.0, "b"))],
            ["annotation 2 (segment_open), observation 1: 5 is no label"],
        ),
        (
            [TWO, annotation("segment_open", beat(1.0, "b"))],
            ["annotation 2 (segment_open), observation 1: the section ends at 1 s but starts at 1 s"],
        ),
    ],
)
def test_what_cannot_be_used_is_told_with_its_place(tmp_path: Path, annotations: list[Any], told: list[str]) -> None:
    with pytest.raises(BeatsError) as refused:
        read_jams(file(tmp_path, *annotations))
    lines = [str(problem) for problem in refused.value.problems]
    assert len(lines) == len(told)
    assert all(part in line for part, line in zip(told, lines, strict=True)), lines


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('{"annotations": [}', r"song\.jams, line 1, column 18: is not JSON: expecting value"),
        ("", "line 1, column 1: is not JSON"),
        ("[" * 100_000, "is not JSON that can be read: nested too deeply"),
        ('{"annotations": ' + "9" * 5000 + "}", "is not JSON that can be read"),
        ("[1, 2]", "is not JAMS: it has no annotations"),
        ('{"annotations": {}}', "is not JAMS: it has no annotations"),
        ('{"annotations": [{"namespace": "beat", "data": [{"time": NaN, "value": 1}]}]}', "the time nan is no number"),
    ],
)
def test_what_is_no_jams_is_told(tmp_path: Path, text: str, told: str) -> None:
    (tmp_path / "song.jams").write_text(text)
    with pytest.raises(BeatsError, match=told):
        read_jams(tmp_path / "song.jams")


def test_files_too_large_for_annotations_of_a_song_are_not_read(tmp_path: Path) -> None:
    with open(tmp_path / "song.jams", "wb") as large:
        large.truncate((8 << 20) + 1)
    with pytest.raises(BeatsError, match="is larger than 8 MiB"):
        read_jams(tmp_path / "song.jams")


JSON = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.sampled_from(["", "verse", "beat", "segment_open"]),
    lambda inner: st.lists(inner, max_size=4)
    | st.dictionaries(st.sampled_from(["annotations", "namespace", "data", "time", "duration", "value"]), inner),
    max_leaves=20,
)  # fmt: skip


@given(JSON)
def test_any_json_is_read_or_refused(tmp_path_factory: pytest.TempPathFactory, anything: Any) -> None:
    path = tmp_path_factory.getbasetemp() / "any.jams"
    path.write_text(json.dumps({"annotations": [{"namespace": "beat", "data": anything}, anything]}))
    with contextlib.suppress(BeatsError):
        times, positions, _ = read_jams(path)
        assert len(times) == len(positions) > 1


def test_a_title_in_any_letters_stays_itself() -> None:
    assert json.loads(jams_text(GRID, 'Schöne "Grüße" ☃'))["file_metadata"]["title"] == 'Schöne "Grüße" ☃'
