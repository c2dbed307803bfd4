"""Beats, sections and events of a song, placed in a copy of it along the pieces that both have in common."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise

import numpy as np

from eavesong.exchange.aligned import Alignment
from eavesong.exchange.pieces import Piece
from eavesong.music.events import END, SPANS, Event, Events
from eavesong.music.grid import CLOSEST, BeatGrid, Section
from eavesong.scene.timeline import unrolled

APART = 0.4
"""Share of a beat that two beats are apart at least where pieces meet."""
SHORT = 0.3
"""Seconds below which what is left of a section is none."""
NEW = "new"
"""The label of what is not in the song."""
EDGE = 0.03
"""Seconds by which a beat may lie outside the piece it belongs to."""
HAIR = 0.002
"""Seconds by which a cue that reaches to an end of the song may be farther from that of the copy."""
MOST_OF_A_BAR = 0.9
"""Of a bar of the song, in bars of the copy, from which on it is there."""
WHOLE = 0.03
"""Bars, beats or seconds within which a place in the copy is a whole one."""


def placed_grid(grid: BeatGrid, found: Alignment, heard: BeatGrid | None = None) -> BeatGrid:
    """The beats and sections of the song, ``grid``, in its copy; ``heard`` is what the copy sounds like by itself.

    What is new takes its beats and the kinds of its sections from ``heard``.
    """
    beats = _beats(grid, found, heard)
    times, positions = _counted(beats)
    sections = _sections(grid, found, heard)
    duration = found.length
    return BeatGrid(times, positions, _met(sections, times), max(duration, times[-1] if times else 0.0))


def placed_events(events: Events, found: Alignment) -> Events:
    """The events of the song in its copy; a span that a piece's end cuts short ends there."""
    placed: list[Event] = []
    for piece in _common(found):
        begin, end = piece.source()
        inside = [each for each in events.items if begin - EDGE <= each.time < end]
        placed += [Event(_at(piece, each.time), each.label, each.strength) for each in inside]
        for label in SPANS:
            if any(start < end < stop and start >= begin for start, stop, _ in events.spans(label)):
                placed.append(Event(round(piece.end, 4), label + END))
    return Events.of(placed)


@dataclass(frozen=True)
class Carried:
    """Where the bars, beats and seconds of the song are in its copy."""

    grid: BeatGrid
    copy: BeatGrid
    found: Alignment

    def spans(self, way: str, start: float, end: float) -> list[tuple[float, float]]:
        """What of ``start`` to ``end`` of the song is in the copy, counted in its own ``bars``, ``beats`` or ``times``.

        Carried and beats are counted from 1, as shows count them.
        """
        begin, stop = self._second(self.grid, way, start), self._second(self.grid, way, end)
        spans = []
        for piece in _common(self.found):
            first, last = piece.source()
            first, last = max(begin, first - EDGE), min(stop, last + EDGE)
            if last - first > _least(stop - begin):
                spans.append((self._count(way, _at(piece, first)), self._count(way, _at(piece, last))))
        return _merged(spans)

    def unrolled(self, way: str, ranges: Sequence[tuple[float, float]], every: float) -> list[tuple[float, float]]:
        """Ranges of the song, and those that come again after ``every`` of its bars, beats or seconds."""
        return [*unrolled(ranges, every, partial(self._second, self.grid, way), self.found.seconds)]

    def rolled(self, way: str, spans: Sequence[tuple[float, float]], every: float) -> list[tuple[float, float]] | None:
        """The first of ``spans`` of the copy, if all others come again after ``every`` of its bars, beats or seconds
        and nothing else does; None where they do not."""
        length, at = self.found.length, partial(self._second, self.copy, way)

        def seconds(each: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
            """What of spans lies within the copy."""
            inside = [(max(at(start), 0.0), min(at(end), length)) for start, end in each]
            return sorted((start, end) for start, end in inside if end - start > 0)

        first = [span for span in spans if span[0] < spans[0][0] + every - EDGE]
        one, other = seconds(unrolled(first, every, at, length)), seconds(spans)
        one, other = (_long(each, other[0][1] - other[0][0] if other else 0.0) for each in (one, other))
        alike = len(one) == len(other) and np.allclose(one, other, rtol=0.0, atol=2 * EDGE)
        return first if alike and every >= first[-1][1] - first[0][0] - 1e-9 else None

    def begun_before(
        self, way: str, start: float, end: float, spans: list[tuple[float, float]]
    ) -> list[tuple[float, float]]:
        """``spans`` of the copy of what lasts from ``start`` to ``end`` in the song, from before the copy on where its
        beginning is cut off, and comes nowhere else: what runs through the whole of it, as ramps and fades do, is where
        it was in the music."""
        pieces = [*_common(self.found)]
        if not spans or not pieces or pieces[0].begin > 2 * EDGE:
            return spans
        piece, *others = pieces
        first, begun = piece.source()[0], self._second(self.grid, way, start)
        elsewhere = any(other.source()[0] - EDGE <= begun < other.source()[1] for other in others)
        reached = begun < first - 2 * EDGE and self._second(self.grid, way, end) > first + 2 * EDGE
        if elsewhere or not reached or self._second(self.copy, way, spans[0][0]) > 2 * EDGE:
            return spans
        there = self._exact(way, _at(piece, first), self.copy) - (self._exact(way, first, self.grid) - start)
        near = round(there) if abs(there - round(there)) < WHOLE else round(there, 3)
        return [(float(near), spans[0][1]), *spans[1:]] if near < spans[0][0] else spans

    def _exact(self, way: str, second: float, grid: BeatGrid) -> float:
        if way == "times":
            return second
        now = grid.musical_time([second])
        return float((now.bar if way == "bars" else now.beat)[0]) + 1

    def cue_spans(self, way: str, start: float, end: float) -> list[tuple[float, float]]:
        """The same of a cue: one that reaches to the song's beginning or end reaches to that of the copy, whatever is
        new there, and ends that do so as they are written stay."""
        spans, common = self.spans(way, start, end), list(_common(self.found))
        begin, stop = self._second(self.grid, way, start), self._second(self.grid, way, end)
        length = self.found.length
        leads = way != "times" and start < 1 and 0 < stop <= self.grid.downbeats[0] + EDGE
        brief = leads and not spans and bool(common) and abs(stop - common[0].source()[0]) <= 2 * EDGE
        if brief and (until := _at(common[0], stop)) > 2 * EDGE:  # up to a first bar that begins later here
            spans = [(self._count(way, 0.0), self._count(way, until))]
        if spans and begin <= EDGE and (brief or stop > common[0].source()[0] + EDGE):
            late = max(begin, 0.0) + HAIR  # no later than in the song
            first, there = (np.floor(self._count(way, 0.0, grid)) for grid in (self.grid, self.copy))
            there -= self._second(self.copy, way, there) > late
            reaches = self._second(self.copy, way, start) <= late and (start < first or start >= there)
            spans[0] = start if reaches else float(there), spans[0][1]
        if spans and stop >= self.found.seconds - EDGE and begin < common[-1].source()[1] - EDGE:
            last, there = (
                np.ceil(self._count(way, seconds, grid))
                for seconds, grid in ((self.found.seconds, self.grid), (length, self.copy))
            )
            least = length - max(self.found.seconds - stop, 0.0) - HAIR
            there += self._second(self.copy, way, there) < least
            reaches = self._second(self.copy, way, end) >= least and (end > last or end <= there)
            spans[-1] = spans[-1][0], end if reaches else float(there)
        return spans

    def in_song(self, way: str, start: float, end: float) -> bool:
        """Whether something of ``start`` to ``end`` lies within the song."""
        return max(self._second(self.grid, way, start), 0.0) < min(
            self._second(self.grid, way, end), self.found.seconds
        )

    def began(self, bars: Iterable[float]) -> list[tuple[float, float]]:
        """The bars of the song whose beginnings are in the copy, counted as there, and the second of each; where what
        lies before the last of them ends; and those with which sections begin that the song has not, or less often."""
        bars = [*bars]
        there = (self.spans("bars", bar, bar + 1) for bar in bars)
        began = {spans[0][0]: self.copy.time_of_bar(spans[0][0] - 1) for spans in there if spans}
        last = next((spans[-1][1] for first, end in reversed([*pairwise(bars)])
                     if (spans := self.spans("bars", first, end))), None)  # fmt: skip
        if last is not None:
            began.setdefault(last, self.copy.time_of_bar(last - 1))
        images = [spans[0][0] for section in self.grid.sections
                  if (spans := self.spans("times", section.start, section.end))]  # fmt: skip
        for section in self.copy.sections:
            if all(abs(section.start - image) > 2 * EDGE for image in images):
                bar = max(1.0, self._count("bars", section.start))
                began.setdefault(bar, self.copy.time_of_bar(bar - 1))
        return [(bar, second) for bar, second in sorted(began.items()) if second >= 0]

    def bars_elsewhere(self) -> list[tuple[int, float]]:
        """The bars of the song that have another number in the copy, both counted from 1."""
        spans = [(bar, self.spans("bars", bar, bar + 1)) for bar in range(1, self.grid.bar_count + 1)]
        whole = [(bar, there[0]) for bar, there in spans if there and there[0][1] - there[0][0] > MOST_OF_A_BAR]
        return [(bar, start) for bar, (start, _) in whole if start != bar]

    @staticmethod
    def _second(grid: BeatGrid, way: str, count: float) -> float:
        if way == "bars":
            return grid.time_of_bar(count - 1)
        return grid.time_of_beat(count - 1) if way == "beats" else count

    def _count(self, way: str, second: float, grid: BeatGrid | None = None) -> float:
        if way == "times":
            return round(second, 2)
        now = (grid or self.copy).musical_time([second])
        count = float((now.bar if way == "bars" else now.beat)[0]) + 1
        near = EDGE * 2 / max(self._length(way), 1e-3) + WHOLE
        return float(round(count)) if abs(count - round(count)) < near else round(count, 3)

    def _length(self, way: str) -> float:
        """Seconds of a bar or a beat."""
        beat = 60.0 / self.copy.tempo
        return beat * float(np.median(self.copy.beats_in_bars)) if way == "bars" else beat


def bars_missing(grid: BeatGrid, found: Alignment) -> list[tuple[int, int]]:
    """First and last numbers (from 1) of the bars that are not in the copy, run by run."""
    return _numbers([count == 0 for count in _counts(grid, found)])


def bars_doubled(grid: BeatGrid, found: Alignment) -> list[tuple[int, int]]:
    """First and last numbers (from 1) of the bars that come more than once."""
    return _numbers([count > 1 for count in _counts(grid, found)])


def _counts(grid: BeatGrid, found: Alignment) -> list[int]:
    """How often the middle of each bar, of what the song has of it, is in the copy."""
    bounds = np.minimum([grid.time_of_bar(bar) for bar in range(grid.bar_count + 1)], found.seconds)
    middles = (bounds[:-1] + bounds[1:]) / 2
    spans = [piece.source() for piece in _common(found)]
    kept = [sum(begin <= middle < end for begin, end in spans) for middle in middles]
    return [count if length > 0 else 1 for count, length in zip(kept, np.diff(bounds), strict=True)]


def _numbers(marked: list[bool]) -> list[tuple[int, int]]:
    runs: list[tuple[int, int]] = []
    for number, here in enumerate(marked, 1):
        if here and runs and runs[-1][1] == number - 1:
            runs[-1] = runs[-1][0], number
        elif here:
            runs.append((number, number))
    return runs


def _common(found: Alignment) -> Iterator[Piece]:
    return (piece for piece in found.pieces if piece.line)


def _at(piece: Piece, second: float) -> float:
    assert piece.line is not None
    return max(0.0, round(float(piece.line.at(second)), 4))


def _beats(grid: BeatGrid, found: Alignment, heard: BeatGrid | None) -> list[tuple[float, int]]:
    """Beats in order; none closer to the one before than a share of the usual distance."""
    least = max(CLOSEST, APART * 60.0 / grid.tempo)
    beats: list[tuple[float, int]] = []
    for piece in found.pieces:
        for time, position in _beats_of(piece, grid, heard):
            if beats and time - beats[-1][0] < least:
                if position != 1 or beats[-1][1] == 1:
                    continue
                beats.pop()
            beats.append((time, position))
    return beats


def _beats_of(piece: Piece, grid: BeatGrid, heard: BeatGrid | None) -> list[tuple[float, int]]:
    if piece.line is None:
        known = zip(heard.times, heard.positions, strict=True) if heard else ()
        return [(time, position) for time, position in known if piece.begin - EDGE <= time < piece.end - EDGE]
    begin, end = piece.source()
    inside = [(time, position) for time, position in zip(grid.times, grid.positions, strict=True)
              if begin - EDGE <= time < end - EDGE / 2]  # fmt: skip
    return [(_at(piece, time), position) for time, position in inside]


def _counted(beats: list[tuple[float, int]]) -> tuple[tuple[float, ...], tuple[int, ...]]:
    """Times and positions; where pieces meet inside a bar, it is counted on to the next downbeat."""
    times, positions = [], list[int]()
    for time, position in beats:
        if positions and position not in (1, positions[-1] + 1):
            position = positions[-1] + 1
        times.append(time)
        positions.append(position)
    if positions and 1 not in positions:
        positions = [1 + (index % 4) for index in range(len(positions))]
    return tuple(times), tuple(positions)


@dataclass(frozen=True)
class _Rest:
    """What of a section is in one piece, and where in the song that is."""

    number: int
    """Of the section in the song, from 0; -1 for what is new."""
    first: float
    last: float
    section: Section


def _sections(grid: BeatGrid, found: Alignment, heard: BeatGrid | None) -> tuple[Section, ...]:
    joined: list[_Rest] = []
    for part in (part for piece in found.pieces for part in _parts_of(piece, grid, heard)):
        before = joined[-1] if joined else None
        if before and part.number == before.number >= 0 and part.first > before.last - SHORT:
            whole = replace(part.section, start=before.section.start)
            joined[-1] = _Rest(part.number, before.first, part.last, whole)
        else:
            joined.append(part)
    sections: list[Section] = []
    for part in joined:
        start = max(part.section.start, sections[-1].end) if sections else part.section.start
        if part.section.end - start >= SHORT:
            sections.append(replace(part.section, start=start))
    return tuple(sections)


def _met(sections: tuple[Section, ...], times: tuple[float, ...]) -> tuple[Section, ...]:
    """Sections without the gaps of some hundredths of a second that are left where pieces meet beside a section's end:
    they meet at the beat that is nearest, or where the first of them ends; and the first begins with the copy."""
    met: list[Section] = []
    for section in sections:
        if not met and section.start < EDGE:
            section = replace(section, start=0.0)
        if met and 0 < section.start - met[-1].end < SHORT:
            end, start = met[-1].end, section.start
            at = min(times, key=lambda time: abs(time - (start + end) / 2), default=end)
            at = at if end - EDGE <= at <= start + EDGE else end
            met[-1] = replace(met[-1], end=at)
            section = replace(section, start=at)
        met.append(section)
    return tuple(met)


def _parts_of(piece: Piece, grid: BeatGrid, heard: BeatGrid | None) -> list[_Rest]:
    if piece.line is None:
        return [_Rest(-1, 0.0, 0.0, part) for part in _new(piece, heard)] if grid.sections else []
    begin, end = piece.source()
    parts = []
    for number, section in enumerate(grid.sections):
        first, last = max(section.start, begin), min(section.end, end)
        if last - first > CLOSEST:
            placed = Section(_at(piece, first), _at(piece, last), section.label, section.kind)
            parts.append(_Rest(number, first, last, placed))
    return parts


def _new(piece: Piece, heard: BeatGrid | None) -> list[Section]:
    """Sections of what is new, of the kinds that are heard there."""
    inside = [(max(each.start, piece.begin), min(each.end, piece.end), each.kind)
              for each in (heard.sections if heard else ())]  # fmt: skip
    inside = [(start, end, kind) for start, end, kind in inside if end - start > SHORT]
    if not inside:
        return [Section(round(piece.begin, 4), round(piece.end, 4), NEW)]
    return [Section(round(start, 4), round(end, 4), NEW, kind) for start, end, kind in inside]


def _least(seconds: float) -> float:
    """Seconds of a span so long below which what is left of it is none: a flash is whole where half of it is there."""
    return min(2 * EDGE, seconds / 2)


def _long(spans: list[tuple[float, float]], seconds: float) -> list[tuple[float, float]]:
    """Those of ``spans`` that are no mere rest, of spans that are about so long."""
    return [(start, end) for start, end in spans if end - start > _least(seconds)]


def _merged(spans: list[tuple[float, float]]) -> list[tuple[float, float]]:
    merged: list[tuple[float, float]] = []
    for start, end in sorted(span for span in spans if span[1] > span[0]):
        if merged and start <= merged[-1][1] + 1e-9:
            merged[-1] = merged[-1][0], max(end, merged[-1][1])
        else:
            merged.append((start, end))
    return merged
