"""The beat grid: when every beat and section of a song is, and what musical time it is at any second."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from eavesong.errors import BeatsError, Problem

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

LATEST = 30_000.0
"""Seconds after which no beat is believed: ``mir_eval.beat.MAX_TIME``; that library refuses later ones."""
CLOSEST = 0.01
"""Seconds two beats are apart at least: 6000 beats a minute, so anything closer is a line written twice."""
BEATS_PER_BAR = 4
"""Beats of a bar where nothing says it: by far the most common metre of songs (common practice)."""
MOST_IN_A_BAR = 64
"""Beats of the longest bar that is believed."""
LONGEST_LABEL = 80
BREATH = 0.02
"""Seconds that make no bar: less than a frame of light."""
HAIR = 1e-6
"""Bars that rounding leaves behind."""
OVERLAP = 0.001
"""Seconds by which sections may overlap: what rounding to milliseconds leaves behind."""


@dataclass(frozen=True)
class Section:
    """A stretch of the song from ``start`` to ``end`` (seconds) with a name such as ``verse``.

    ``kind`` is one of `KINDS`, or empty where nobody has said or heard it.
    """

    start: float
    end: float
    label: str
    kind: str = ""


@dataclass(frozen=True, eq=False)
class MusicalTime:
    """Musical time at f moments: every field is float64 of shape (f,)."""

    beat: Floats
    """Beats since the first downbeat; negative in the pickup; whole at every beat."""
    bar: Floats
    """Bars since the first downbeat, linear in beats inside a bar; whole at every downbeat."""
    beats_per_bar: Floats
    """Beats of the bar this moment is in."""
    section: Floats
    """Which section this is, from 0."""
    section_progress: Floats
    """How much of the section is over, 0 to 1 (in seconds)."""


@dataclass(frozen=True)
class BeatGrid:
    """Every beat of a song, which beat of its bar each one is, and the song's sections.

    ``times`` are the beats in seconds, strictly rising. ``positions`` say which beat of its bar each is: 1 for the
    downbeat, then 2, 3 and so on; what stands before the first 1 is the pickup. Bars may differ in length.
    ``sections`` follow each other and may be empty: then the whole song is one. ``duration`` is in seconds.
    Two grids with the same values are equal. Raises BeatsError listing everything that does not fit.
    """

    times: tuple[float, ...]
    positions: tuple[int, ...]
    sections: tuple[Section, ...] = ()
    duration: float = 0.0

    def __post_init__(self) -> None:
        object.__setattr__(self, "times", tuple(float(time) for time in self.times))
        object.__setattr__(self, "positions", tuple(int(position) for position in self.positions))
        object.__setattr__(self, "sections", tuple(self.sections))
        object.__setattr__(self, "duration", float(self.duration))
        problems = [
            *(_problem("beat", misfit) for misfit in misfits_of_beats(self.times, self.positions)),
            *(_problem("section", misfit) for misfit in misfits_of_sections(self.sections)),
        ]
        if not (math.isfinite(self.duration) and self.duration > 0):
            problems.append(Problem("beat grid", "", f"the song lasts {self.duration} seconds"))
        if problems:
            raise BeatsError(problems)

    @property
    def beat_count(self) -> int:
        """How many beats the grid holds, pickup included."""
        return len(self.times)

    @property
    def bar_count(self) -> int:
        """How many bars begin in the song: its downbeats."""
        return len(self._bar_starts)

    @property
    def last_line(self) -> int:
        """The bar line, counted from 0, to which the bar goes on that the song ends in, whether or not all of its beats
        were heard. A breath of sound beyond a line is of no new bar."""
        return math.ceil(float(self.musical_time(self.duration - BREATH).bar[0]) - HAIR)

    @property
    def downbeats(self) -> tuple[float, ...]:
        """The seconds at which bars begin."""
        return tuple(time for time, position in zip(self.times, self.positions, strict=True) if position == 1)

    @property
    def beats_in_bars(self) -> tuple[int, ...]:
        """How many beats each bar has, from the first downbeat on."""
        return tuple(int(length) for length in self._bar_lengths)

    @property
    def usual_beats(self) -> int:
        """The number of beats that most bars have; of several the smallest."""
        return int(np.bincount(self.beats_in_bars).argmax())

    @property
    def tempo(self) -> float:
        """Beats a minute, from the median time that eight beats take: single ones jitter."""
        span = min(8, self.beat_count - 1)
        taken = np.sort(self._seconds[span:] - self._seconds[:-span])  # np.median would import masked arrays
        return 120.0 * span / float(taken[(len(taken) - 1) // 2] + taken[len(taken) // 2])

    @property
    def beginnings(self) -> dict[float, Section]:
        """The sections by the bars, from 1 and to a hundredth, at which they begin; of several before the end of the
        pickup the last one."""
        bars = self.musical_time([section.start for section in self.sections]).bar + 1
        return {round(max(1.0, bar), 2): each for bar, each in zip(bars.tolist(), self.sections, strict=True)}

    @property
    def kind_spans(self) -> tuple[Section, ...]:
        """The sections with neighbours of one kind joined; see `joined_kinds`."""
        return joined_kinds(self.sections)

    def musical_time(self, seconds: ArrayLike) -> MusicalTime:
        """The musical time at ``seconds`` (f,): five float64 arrays of the same shape.

        Before the first and after the last beat, beats go on at the nearest interval and bars at the nearest
        length. Between sections, and outside them, the last one begun (or the first to come) counts.
        """
        moments = np.atleast_1d(np.asarray(seconds, dtype=np.float64))
        beat = self._beat_of(moments)
        bar, beats_per_bar = self._bar_of(beat)
        section, progress = self._section_of(moments)
        return MusicalTime(beat, bar, beats_per_bar, section, progress)

    def beat_at(self, seconds: ArrayLike) -> Floats:
        """The beat alone at ``seconds`` (f,), as ``musical_time`` gives it."""
        return self._beat_of(np.atleast_1d(np.asarray(seconds, dtype=np.float64)))

    def time_of_beat(self, beat: float) -> float:
        """The second at which ``beat`` (from 0, the first downbeat; fractions and negatives too) is reached."""
        place = float(beat) + self._first
        index = min(max(math.floor(place), 0), self.beat_count - 2)
        begin, end = self.times[index], self.times[index + 1]
        return begin + (place - index) * (end - begin)

    def time_of_bar(self, bar: float) -> float:
        """The second at which ``bar`` (from 0, the first whole bar; fractions and negatives too) is reached."""
        bar = float(bar)
        index = math.floor(bar)
        if index < 0:
            return self.time_of_beat(bar * self._pickup_length)
        index = min(index, self.bar_count - 1)
        return self.time_of_beat(self._bar_starts[index] + (bar - index) * self._bar_lengths[index])

    @cached_property
    def _seconds(self) -> Floats:
        return np.array(self.times)

    @cached_property
    def _first(self) -> int:
        """How many beats stand before the first downbeat."""
        return self.positions.index(1)

    @cached_property
    def _bar_starts(self) -> Floats:
        """The beat each bar begins at, counted from the first downbeat."""
        return np.flatnonzero(np.array(self.positions) == 1).astype(np.float64) - self._first

    @cached_property
    def _bar_lengths(self) -> Floats:
        """Beats of each bar; the last one has at least as many as the one before, as songs end inside a bar."""
        seen = self.beat_count - self._first - self._bar_starts[-1]
        inner = np.diff(self._bar_starts)
        before = inner[-1] if len(inner) else max(self.positions)
        return np.append(inner, max(seen, before))

    @cached_property
    def _pickup_length(self) -> float:
        """Beats of the bar before the first downbeat, and of all that one could count before it."""
        return float(self.positions[self._first - 1]) if self._first else float(self._bar_lengths[0])

    def _beat_of(self, moments: Floats) -> Floats:
        index = np.clip(np.searchsorted(self._seconds, moments, side="right") - 1, 0, self.beat_count - 2)
        begin, end = self._seconds[index], self._seconds[index + 1]
        return index + (moments - begin) / (end - begin) - self._first

    def _bar_of(self, beat: Floats) -> tuple[Floats, Floats]:
        index = np.searchsorted(self._bar_starts, beat, side="right") - 1
        inside = np.maximum(index, 0)
        length = np.where(index < 0, self._pickup_length, self._bar_lengths[inside])
        return inside + (beat - self._bar_starts[inside]) / length, length

    def _section_of(self, moments: Floats) -> tuple[Floats, Floats]:
        sections = self.sections or (Section(0.0, self.duration, "song"),)
        starts = np.array([section.start for section in sections])
        ends = np.array([section.end for section in sections])
        index = np.clip(np.searchsorted(starts, moments, side="right") - 1, 0, len(sections) - 1)
        progress = (moments - starts[index]) / (ends[index] - starts[index])
        return index.astype(np.float64), np.clip(progress, 0.0, 1.0)


def joined_kinds(sections: Iterable[Section]) -> tuple[Section, ...]:
    """Sections with neighbours of one kind joined: each from the first one's start to the last one's end.

    A label of several is that of the first. Sections without a kind stay alone.
    """
    spans: list[Section] = []
    for section in sections:
        before = spans[-1] if spans else None
        if before and section.kind and section.kind == before.kind and section.start - before.end <= CLOSEST:
            spans[-1] = Section(before.start, section.end, before.label, before.kind)
        else:
            spans.append(section)
    return tuple(spans)


Misfit = tuple[int, str, str]
"""What does not fit: which entry (from 0, or -1 for all of them), what was found, what to write instead."""


def misfits_of_beats(times: tuple[float, ...], positions: tuple[int, ...]) -> Iterator[Misfit]:
    """Every reason why ``times`` (seconds) and ``positions`` (1 = downbeat) are no beat grid, in their order."""
    if len(times) != len(positions):
        yield -1, f"there are {len(times)} times but {len(positions)} positions", "Give each beat both."
        return
    if len(times) < 2:
        yield -1, f"there are {len(times)} beats", "Give two at least: their distance is the tempo."
        return
    for index, (time, position) in enumerate(zip(times, positions, strict=True)):
        if not 0 <= time <= LATEST:
            yield index, f"the time {time:g} s is not in a song", f"Write seconds from 0 to {LATEST:.0f}."
        elif index and not time - times[index - 1] >= CLOSEST:
            yield index, *_too_early(times[index - 1], time)
        if not 1 <= position <= MOST_IN_A_BAR:
            yield index, f"{position} is no position in a bar", f"Write 1 to {MOST_IN_A_BAR}; 1 is the downbeat."
        elif index and 1 <= positions[index - 1] <= MOST_IN_A_BAR and position not in (1, positions[index - 1] + 1):
            yield (
                index,
                f"position {position} follows position {positions[index - 1]}",
                f"Write {positions[index - 1] + 1} to go on with the bar, or 1 to begin a new one.",
            )
    if 1 not in positions:
        yield -1, "no beat has position 1", "Give the first beat of every bar position 1."


def _too_early(before: float, time: float) -> tuple[str, str]:
    if time > before:
        return f"{time:g} s is {time - before:.3g} s after the beat before it", "Leave one of the two out."
    return f"{time:g} s does not come after the beat before it, {before:g} s", "Write the beats in order of time."


def misfits_of_sections(sections: tuple[Section, ...]) -> Iterator[Misfit]:
    """Every reason why ``sections`` cannot follow each other in a song, in their order."""
    for index, section in enumerate(sections):
        inside = 0 <= section.start <= LATEST and 0 <= section.end <= LATEST
        if not inside:
            found = f"{section.start:g} to {section.end:g} s is not in a song"
            yield index, found, f"Write seconds from 0 to {LATEST:.0f}."
        elif not section.end - section.start >= CLOSEST:
            found = f"the section ends at {section.end:g} s but starts at {section.start:g} s"
            yield index, found, "Write start, end, label, in this order."
        elif index and section.start < sections[index - 1].end - OVERLAP:
            found = f"the section starts at {section.start:g} s, inside the one before it"
            yield index, found, f"Start it at {sections[index - 1].end:g} s or later."
        if not (section.label.strip() == section.label and section.label.isprintable() and section.label):
            yield index, f"{section.label!r:.50} is no label", "Write a word or a few, such as 'verse'."
        elif len(section.label) > LONGEST_LABEL:
            yield index, "the label is too long", f"Write {LONGEST_LABEL} characters at most."


def _problem(noun: str, misfit: Misfit) -> Problem:
    index, found, instead = misfit
    return Problem("beat grid", f"{noun} {index + 1}" if index >= 0 else "", found, instead)
