"""Beat, section and event texts: the annotation texts that ``mir_eval.io`` and annotation editors read and write.

A *beats* text has one line per beat: its time in seconds and, after a tab or spaces, its position in the bar
(``mir_eval.io.load_labeled_events`` reads it). When no line has a position (``load_events``), the song is taken to
be in bars of four from the first beat on. A *sections* text has one line per section: start, end and label
(``load_labeled_intervals``); a section's kind, where it has one, stands in brackets behind the label:
``verse (quiet)``. An *events* text has one line per event: its time, its label, and perhaps its strength
(``load_labeled_events``). Lines beginning with ``#`` and empty lines count for nothing, but for the one that says
which sound the text is for (`eavesong.music.made_for`).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import pairwise
from pathlib import Path
from typing import TypeVar

from eavesong.errors import BeatsError, MisfitError, Problem, advise
from eavesong.files import read_text, write_whole
from eavesong.music.events import LABELS, Event, Events
from eavesong.music.grid import BEATS_PER_BAR, LATEST, BeatGrid, Misfit, Section, misfits_of_beats, misfits_of_sections
from eavesong.music.kinds import label_and_kind, labelled
from eavesong.music.made_for import made_for_line

JAMS = ".jams"
"""Ending of the names of JAMS files, which hold beats and sections."""

FEW = 3
"""Lines up to which a text without any time is told line by line: more of them are another kind of file."""

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)
Read = TypeVar("Read")
_LINE = tuple[int, list[str]]
"""Line number from 1 and the line's columns."""


def read_grid(beats_path: str | Path, sections_path: str | Path | None, duration: float) -> BeatGrid:
    """The beat grid in a beats text and, if given, a sections text; ``duration`` of the song in seconds.

    A beats text whose name ends with ``.jams`` is read as JAMS, with the sections in it unless there is a text of them.
    Raises BeatsError with every line, of both texts, that cannot be used.
    """
    problems: list[Problem] = []
    sections: tuple[Section, ...] = ()
    if Path(beats_path).suffix.lower() == JAMS:
        from eavesong.music.jams import read_jams

        times, positions, sections = read_jams(beats_path)
    else:
        times, positions = _beats(beats_path, problems)
    if sections_path:
        sections = _sections(sections_path, problems)
    if problems:
        raise BeatsError(problems)
    return BeatGrid(times, positions, sections, duration)


def read_sections(path: str | Path) -> tuple[Section, ...]:
    """The sections in a sections text. Raises BeatsError with every line that cannot be used."""
    problems: list[Problem] = []
    sections = _sections(path, problems)
    if problems:
        raise BeatsError(problems)
    return sections


def write_beats(path: str | Path, grid: BeatGrid, audio_hash: str = "") -> None:
    """Write the beats of ``grid`` to ``path``, one ``time<TAB>position`` a line; reading them gives the same.

    audio_hash: SHA-256 of the sound that they are for, in hex, which the text then says; see `eavesong.music.made_for`.
    """
    write_whole(path, made_for_line(audio_hash) + beats_text(grid))


def write_sections(path: str | Path, grid: BeatGrid, audio_hash: str = "") -> None:
    """Write the sections of ``grid`` to ``path``, one ``start<TAB>end<TAB>label (kind)`` a line; see `write_beats`."""
    write_whole(path, made_for_line(audio_hash) + sections_text(grid))


def beats_text(grid: BeatGrid) -> str:
    """The beats of ``grid`` as a beats text."""
    return "".join(f"{time!r}\t{position}\n" for time, position in zip(grid.times, grid.positions, strict=True))


def sections_text(grid: BeatGrid) -> str:
    """The sections of ``grid`` as a sections text."""
    return "".join(f"{part.start!r}\t{part.end!r}\t{labelled(part)}\n" for part in grid.sections)


def read_events(path: str | Path) -> Events:
    """The events in an events text, in order of time. Raises BeatsError with every line that cannot be used."""
    problems: list[Problem] = []
    events: list[Event] = []
    for number, columns in _columns(path, 4):
        try:
            events.append(_event(columns))
        except MisfitError as fault:
            problems.append(_problem(path, number, fault.found, fault.instead))
    if problems:
        raise BeatsError(problems)
    return Events.of(events)


def write_events(path: str | Path, events: Events, audio_hash: str = "") -> None:
    """Write ``events`` to ``path``, one ``time<TAB>label<TAB>strength`` a line; see `write_beats`."""
    write_whole(path, made_for_line(audio_hash) + events_text(events))


def events_text(events: Events) -> str:
    """``events`` as an events text."""
    return "".join(f"{each.time!r}\t{each.label}\t{each.strength:g}\n" for each in events.items)


def _beats(path: str | Path, problems: list[Problem]) -> tuple[tuple[float, ...], tuple[int, ...]]:
    lines = _columns(path, 2)
    if not any(_NUMBER.fullmatch(columns[0]) for _, columns in lines) and len(lines) > FEW:
        found = "is no beats text: not one of its lines begins with a time"
        problems.append(Problem(str(path), "", found, "Write time and position on each line: 12.5 1."))
        return (), ()
    bare = bool(lines) and all(len(columns) == 1 for _, columns in lines)

    def beat(index: int, columns: list[str]) -> tuple[float, int]:
        """Time and position of a line; MisfitError where it has none."""
        return _seconds(columns[0]), index % BEATS_PER_BAR + 1 if bare else _position(columns)

    def misfits(beats: Sequence[tuple[float, int]]) -> Iterator[Misfit]:
        """Why beats cannot follow each other."""
        return misfits_of_beats(tuple(time for time, _ in beats), tuple(position for _, position in beats))

    beats = _all_of(path, lines, beat, misfits, problems)
    return tuple(time for time, _ in beats), tuple(position for _, position in beats)


def _sections(path: str | Path, problems: list[Problem]) -> tuple[Section, ...]:
    lines = _columns(path, 3)
    if not lines:
        problems.append(Problem(str(path), "", "no section stands in it", "Write lines of start, end and label."))

    def misfits(sections: Sequence[Section]) -> Iterator[Misfit]:
        """Why sections cannot follow each other."""
        return misfits_of_sections(tuple(sections))

    return tuple(_all_of(path, lines, lambda _, columns: _section(columns), misfits, problems))


def _all_of(
    path: str | Path,
    lines: list[_LINE],
    read: Callable[[int, list[str]], Read],
    misfits: Callable[[Sequence[Read]], Iterable[Misfit]],
    problems: list[Problem],
) -> list[Read]:
    """What can be read of the lines; every problem, in the order of the lines.

    misfits: why what was read cannot follow each other. Around a line that cannot be read nobody knows what was meant:
    only what lies between two of those is held against each other.
    """
    found: list[Read] = []
    bad: dict[int, Misfit] = {}
    for index, (_, columns) in enumerate(lines):
        try:
            found.append(read(index, columns))
        except MisfitError as fault:
            bad[index] = (index, fault.found, fault.instead)
    told = [*bad.values()]
    good = 0
    for begin, end in pairwise([-1, *bad, len(lines)]):
        run = slice(good, good := good + end - begin - 1)
        for at, what, instead in misfits(found[run]):
            if at >= 0 or not bad:
                told.append((begin + 1 + at if at >= 0 else at, what, instead))
    for index, what, instead in sorted(told):
        problems.append(_problem(path, lines[index][0] if index >= 0 else 0, what, instead))
    return found


def _columns(path: str | Path, most: int) -> list[_LINE]:
    """The numbered lines that say something, each split at white space into at most so many columns."""
    # Split at line ends only: str.splitlines would count a form feed or U+2028 as one too.
    numbered = enumerate(re.split(r"\r\n|\n|\r", read_text(path, BeatsError)), start=1)
    return [
        (number, line.strip().split(None, most - 1))
        for number, line in numbered
        if line.strip() and not line.lstrip().startswith("#")
    ]


def _seconds(word: str) -> float:
    if not _NUMBER.fullmatch(word):
        raise MisfitError(f"{word!r:.40} is not a time", "Write seconds, such as 12.5.")
    return float(word)


def _position(columns: list[str]) -> int:
    if len(columns) < 2:
        raise MisfitError("the beat has no position in its bar", "Write time and position: 12.5 1.")
    if not re.fullmatch(r"[0-9]{1,4}", columns[1]):
        raise MisfitError(f"{columns[1]!r:.40} is no position in a bar", "Write 1 for a downbeat, then 2, 3, …")
    return int(columns[1])


def _section(columns: list[str]) -> Section:
    if len(columns) < 3:
        raise MisfitError("a section needs three columns", "Write start, end and label: 0.0 12.5 verse.")
    return Section(_seconds(columns[0]), _seconds(columns[1]), *label_and_kind(columns[2]))


def _event(columns: list[str]) -> Event:
    if len(columns) < 2:
        raise MisfitError("the event has no label", "Write time, label and strength: 12.5 hit 0.8.")
    time, label = _seconds(columns[0]), columns[1]
    if not 0 <= time <= LATEST:
        raise MisfitError(f"the time {time:g} s is not in a song", f"Write seconds from 0 to {LATEST:.0f}.")
    if label not in LABELS:
        raise MisfitError(f"{label!r:.40} is no event", f"{advise(label, LABELS, 'label')}")
    if len(columns) == 2:
        return Event(time, label)
    if len(columns) > 3 or not _NUMBER.fullmatch(columns[2]) or not 0 <= float(columns[2]) <= 1:
        raise MisfitError(f"{' '.join(columns[2:])!r:.40} is no strength", "Write a number from 0 to 1.")
    return Event(time, label, float(columns[2]))


def _problem(path: str | Path, number: int, found: str, instead: str) -> Problem:
    return Problem(str(path), f"line {number}" if number else "", found, instead)
