"""JAMS, the JSON in which people who study music exchange annotations: beats and sections of a song, in and out, and
its events, out.

Fields and namespaces are those of the JAMS schema (Humphrey et al., ISMIR 2014; jams 0.3). Beats are observations of
the namespace ``beat``, whose value is the position in the bar or null, or of ``beat_position``; sections are those of
``segment_open`` or another ``segment_…`` namespace whose values are words. Of several annotations of a kind the first
that holds anything counts. Events are those of ``tag_open``: the value is the label, the confidence the strength.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from eavesong import __version__
from eavesong.errors import BeatsError, Problem
from eavesong.files import read_text, write_whole
from eavesong.music.events import POINTS, SPANS, Events
from eavesong.music.grid import (
    BEATS_PER_BAR,
    MOST_IN_A_BAR,
    BeatGrid,
    Section,
    misfits_of_beats,
    misfits_of_sections,
)
from eavesong.music.kinds import label_and_kind, labelled

JAMS_VERSION = "0.3.5"
"""The version of the schema that is written."""
BEATS = ("beat", "beat_position")
SECTIONS = ("segment_open", "segment_salami_function", "segment_salami_upper", "segment_salami_lower", "segment_tut")
STRENGTHS = "confidence is the strength of each event, 0 to 1; of the lead it is its pitch in the song's range"


def read_jams(path: str | Path) -> tuple[tuple[float, ...], tuple[int, ...], tuple[Section, ...]]:
    """Times (seconds), positions and sections of the song that a JAMS file describes; sections may be none.

    Raises BeatsError with everything that cannot be used and where it stands.
    """
    reader = _JamsReader(str(path))
    times, positions, sections = reader.read(read_text(path, BeatsError))
    if reader.problems:
        raise BeatsError(reader.problems)
    return times, positions, sections


def write_jams(
    path: str | Path, grid: BeatGrid, title: str = "", sure: Sequence[float] | None = None, events: Events | None = None
) -> None:
    """Write ``grid`` and ``events`` as JAMS; ``sure`` is how sure each beat is, 0 to 1, where they were heard."""
    write_whole(path, jams_text(grid, title, sure, events))


def jams_text(
    grid: BeatGrid, title: str = "", sure: Sequence[float] | None = None, events: Events | None = None
) -> str:
    """``grid`` as JAMS: beats with their positions, and the sections if there are any; reading gives the same. Events,
    where there are any, are one more annotation."""
    told = [None] * grid.beat_count if sure is None else [round(float(each), 4) for each in sure]
    beats = [
        _observation(time, 0.0, position, confidence)
        for time, position, confidence in zip(grid.times, grid.positions, told, strict=True)
    ]
    parts = [_observation(part.start, part.end - part.start, labelled(part), None) for part in grid.sections]
    heard = sure is not None
    annotations = [_annotation("beat", beats, grid.duration, heard)]
    if parts:
        annotations.append(_annotation("segment_open", parts, grid.duration, heard))
    if events is not None and events.items:
        annotations.append(_annotation("tag_open", _observed(events), grid.duration, heard, STRENGTHS))
    metadata = {"title": title, "artist": "", "release": "", "duration": grid.duration, "identifiers": {}}
    tables = {"annotations": annotations, "file_metadata": metadata | {"jams_version": JAMS_VERSION}, "sandbox": {}}
    return json.dumps(tables, indent=1, ensure_ascii=False) + "\n"


def _observation(time: float, duration: float, value: Any, confidence: float | None) -> dict[str, Any]:
    return {"time": time, "duration": duration, "value": value, "confidence": confidence}


def _observed(events: Events) -> list[dict[str, Any]]:
    """Points without length and spans with theirs, in order of time."""
    points = [(each.time, 0.0, label, each.strength) for label in POINTS for each in events.labelled(label)]
    spans = [(start, end - start, label, strength) for label in SPANS for start, end, strength in events.spans(label)]
    return [_observation(*each) for each in sorted(points + spans)]


def _annotation(
    namespace: str, data: list[dict[str, Any]], duration: float, heard: bool, rules: str = ""
) -> dict[str, Any]:
    """An annotation of the whole song; its metadata say how it came about."""
    texts = {"corpus": "", "annotation_rules": rules, "validation": ""}
    metadata = texts | {
        "curator": {"name": "", "email": ""},
        "annotator": {},
        "version": "",
        "annotation_tools": f"eavesong {__version__}",
        "data_source": "program" if heard else "",
    }
    span = {"time": 0.0, "duration": duration}
    return {"namespace": namespace, "annotation_metadata": metadata, "data": data, "sandbox": {}} | span


class _JamsReader:
    """Reads one file and gathers what is wrong with it."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.problems: list[Problem] = []

    def say(self, place: str, found: str, instead: str = "") -> None:
        """Note a problem."""
        self.problems.append(Problem(self.name, place, found, instead))

    def read(self, text: str) -> tuple[tuple[float, ...], tuple[int, ...], tuple[Section, ...]]:
        """Times in seconds, positions in the bar, and sections; problems are noted, BeatsError where it is no JAMS."""
        annotations = self.annotations(text)
        times, positions = self.beats(annotations)
        return times, positions, self.sections(annotations)

    def annotations(self, text: str) -> list[Any]:
        """The file's annotations; a BeatsError where it is not even JSON."""
        try:
            tables = json.loads(text)
        except json.JSONDecodeError as fault:
            place = f"line {fault.lineno}, column {fault.colno}"
            found = f"is not JSON: {fault.msg[:1].lower()}{fault.msg[1:]}"
            raise BeatsError(Problem(self.name, place, found)) from None
        except (RecursionError, ValueError):
            found = "is not JSON that can be read: nested too deeply or a number too long"
            raise BeatsError(Problem(self.name, "", found)) from None
        annotations = tables.get("annotations") if isinstance(tables, dict) else None
        if not isinstance(annotations, list):
            advice = "A JAMS file is a table with an array 'annotations'."
            raise BeatsError(Problem(self.name, "", "is not JAMS: it has no annotations", advice))
        return annotations

    def beats(self, annotations: list[Any]) -> tuple[tuple[float, ...], tuple[int, ...]]:
        """Times in seconds and positions in the bar, from 1, of the first annotation that has beats."""
        place, namespace, data = self.chosen(annotations, BEATS)
        if not data:
            if not self.problems:
                self.say("", "no beats stand in it", "Give it an annotation of the namespace 'beat'.")
            return (), ()
        known = len(self.problems)
        bare = namespace == "beat" and all(each.get("value") is None for _, each in data)
        beats = [
            (self.seconds(where, each, "time"), 1 if bare else self.position(where, each.get("value")), where)
            for where, each in data
        ]
        beats.sort(key=lambda beat: beat[0])
        times = tuple(time for time, _, _ in beats)
        positions = tuple(k % BEATS_PER_BAR + 1 if bare else beat[1] for k, beat in enumerate(beats))
        if len(self.problems) == known:
            for index, found, instead in misfits_of_beats(times, positions):
                self.say(beats[index][2] if index >= 0 else place, found, instead)
        return times, positions

    def sections(self, annotations: list[Any]) -> tuple[Section, ...]:
        """The sections of the first annotation that has any, in order of time."""
        _, _, data = self.chosen(annotations, SECTIONS)
        known = len(self.problems)
        parts = []
        for where, each in data:
            start, length = self.seconds(where, each, "time"), self.seconds(where, each, "duration")
            parts.append((start, start + length, self.label(where, each.get("value")), where))
        parts.sort(key=lambda part: part[0])
        sections = tuple(Section(start, end, *label_and_kind(label)) for start, end, label, _ in parts)
        if len(self.problems) == known:
            for index, found, instead in misfits_of_sections(sections):
                self.say(parts[index][3], found, instead)
        return sections

    def chosen(self, annotations: list[Any], namespaces: Sequence[str]) -> tuple[str, str, list[tuple[str, Any]]]:
        """Place, namespace and observations, each with its place, of the first annotation that holds any."""
        for number, annotation in enumerate(annotations, start=1):
            if isinstance(annotation, dict) and annotation.get("namespace") in namespaces:
                place = f"annotation {number} ({annotation['namespace']})"
                if data := self.observations(place, annotation.get("data")):
                    return place, annotation["namespace"], data
        return "", "", []

    def observations(self, place: str, data: Any) -> list[tuple[str, dict[str, Any]]]:
        """The observations of an annotation, each with its place."""
        if isinstance(data, dict):
            data = list(_turned(data))
        if not isinstance(data, list):
            self.say(place, "'data' is no array of observations")
            return []
        found = []
        for number, each in enumerate(data, start=1):
            where = f"{place}, observation {number}"
            if isinstance(each, dict):
                found.append((where, each))
            else:
                self.say(where, "is no table", "Write time, duration, value and confidence.")
        return found

    def seconds(self, where: str, each: dict[str, Any], key: str) -> float:
        """A field of an observation in seconds; 0 where it is no number."""
        value = each.get(key)
        if isinstance(value, bool) or not isinstance(value, int | float) or not _finite(value):
            found = f"'{key}' is missing" if key not in each else f"the {key} {value!r:.40} is no number"
            self.say(where, found, "Write seconds, such as 12.5.")
            return 0.0
        return float(value)

    def position(self, where: str, value: Any) -> int:
        """A position in a bar, from 1; 1 where it is none."""
        if isinstance(value, dict):
            value = value.get("position")
        good = isinstance(value, int | float) and not isinstance(value, bool) and _finite(value)
        if good and value == int(value) and 1 <= value <= MOST_IN_A_BAR:
            return int(value)
        shown = "null" if value is None else f"{value!r:.40}"
        self.say(where, f"{shown} is no position in a bar", "Write 1 for a downbeat, then 2, 3, …; or null everywhere.")
        return 1

    def label(self, where: str, value: Any) -> str:
        """A label without space around; empty where it is no text."""
        if isinstance(value, str):
            return value.strip()
        self.say(where, f"{value!r:.40} is no label", "Write a word or a few, such as 'verse'.")
        return ""


def _turned(columns: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """Observations given as one array for each field, as the schema allows too, one by one."""
    arrays = {key: values for key, values in columns.items() if isinstance(values, list)}
    for index in range(max((len(values) for values in arrays.values()), default=0)):
        yield {key: values[index] for key, values in arrays.items() if index < len(values)}


def _finite(value: float) -> bool:
    try:
        return math.isfinite(value)
    except OverflowError:  # a whole number beyond all floats
        return False
