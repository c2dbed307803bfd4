"""When a cue is lit: its spans in seconds on a song's beat grid, and how strong it is at any moment.

Spans that a show gives in bars, beats or sections keep musical time inside too: progress and fades run evenly in
beats, so a song that slows down stretches them. Spans given in seconds run evenly in seconds.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from eavesong.easing import Easing
from eavesong.music.grid import BREATH, BeatGrid, Section, joined_kinds
from eavesong.show.model import Cue, Fade

Floats = NDArray[np.float64]

MOST_SPANS = 10_000
"""Spans of one cue that 'every' makes at most; what comes later stays dark, and the check says so."""
BRIEFEST = 1e-6
"""Seconds below which a span is no span and a fade no fade: far less than any frame."""


@dataclass(frozen=True)
class Span:
    """One stretch of time in which a cue is lit, from ``start`` up to ``end``, all lengths in seconds."""

    start: float
    end: float
    fade_in: float
    """Seconds until it has come; with ``fade_out`` never longer than the span."""
    fade_out: float
    ease_in: Easing
    ease_out: Easing
    in_beats: bool
    """Whether progress and fades run evenly in beats; otherwise in seconds."""


def spans_of(cue: Cue, grid: BeatGrid) -> tuple[Span, ...]:
    """When ``cue`` is lit in the song of ``grid``, in order of time; empty when no section has its label or kind.

    What begins with a bar, beat or section that comes within a breath of the song's beginning begins with the song: its
    first frame would be dark. Spans may lie beyond the song's ends. Fades that would overlap are shortened in
    proportion until they meet.
    """
    spans = sorted(_seconds_of(cue, grid))
    if not cue.times:
        spans = [(0.0 if 0 < start <= BREATH else start, end) for start, end in spans]
    return tuple(_span(start, end, cue, grid) for start, end in spans if end > start)


def _seconds_of(cue: Cue, grid: BeatGrid) -> Iterator[tuple[float, float]]:
    if cue.bars:
        yield from _placed(cue.bars, cue.every, lambda bar: grid.time_of_bar(bar - 1), grid.duration)
    elif cue.beats:
        yield from _placed(cue.beats, cue.every, lambda beat: grid.time_of_beat(beat - 1), grid.duration)
    elif cue.times:
        yield from _placed(cue.times, cue.every, float, grid.duration)
    elif cue.sections or cue.kinds:
        yield from ((part.start, part.end) for part in sections_of(cue, grid) if part.end > part.start)
    else:
        yield 0.0, grid.duration


def sections_of(cue: Cue, grid: BeatGrid) -> tuple[Section, ...]:
    """The sections of a song that a cue with ``sections`` or ``kinds`` is tied to; see `sections_among`."""
    return sections_among(cue, grid.sections)


def sections_among(cue: Cue, sections: Sequence[Section]) -> tuple[Section, ...]:
    """Those of ``sections`` that a cue is tied to: by label, or by kind where no label is there.

    Labels are compared in any case. Neighbours of one kind are one section here, so that nothing begins again between
    them. Of the times that each label or kind comes, those are left that ``turn`` asks for.
    """
    labels = {label.lower() for label in cue.sections or ()}
    if named := [part for part in sections if part.label.lower() in labels]:
        return _turns(cue.turn, named, lambda part: part.label.lower())
    kinds = cue.kinds or ()
    return _turns(cue.turn, [part for part in joined_kinds(sections) if part.kind in kinds], lambda part: part.kind)


def _turns(
    turn: Sequence[int | str], parts: Sequence[Section], called: Callable[[Section], str]
) -> tuple[Section, ...]:
    """Of the times that each label or kind comes, those that ``turn`` asks for; all for an empty one."""
    if not turn:
        return tuple(parts)
    seen: Counter[str] = Counter()
    total = Counter(called(part) for part in parts)
    left = []
    for part in parts:
        seen[called(part)] += 1
        number = seen[called(part)]
        names = (number, "odd" if number % 2 else "even", "last" if number == total[called(part)] else "")
        if any(each in names for each in turn):
            left.append(part)
    return tuple(left)


def _placed(
    ranges: Sequence[tuple[float, float]], every: float | None, time_of: Callable[[float], float], duration: float
) -> Iterator[tuple[float, float]]:
    """The ranges in seconds; with ``every``, again and again until the song ends."""
    for start, end in unrolled(ranges, every, time_of, duration):
        yield time_of(start), time_of(end)


def unrolled(
    ranges: Sequence[tuple[float, float]], every: float | None, time_of: Callable[[float], float], duration: float
) -> Iterator[tuple[float, float]]:
    """The ranges as they are counted; with ``every``, again and again until the song ends. time_of: tells seconds."""
    yield from ranges
    if every is None:
        return
    for turn in range(1, MOST_SPANS // len(ranges)):
        for start, end in ranges:
            if time_of(start + turn * every) >= duration:
                return
            yield start + turn * every, end + turn * every


def _span(start: float, end: float, cue: Cue, grid: BeatGrid) -> Span:
    fade_in = _length(cue.fade_in, start, 1, grid)
    fade_out = _length(cue.fade_out, end, -1, grid)
    room = min(1.0, (end - start) / (fade_in + fade_out)) if fade_in + fade_out > 0 else 1.0
    return Span(start, end, fade_in * room, fade_out * room, cue.fade_in.curve, cue.fade_out.curve, cue.times is None)


def _length(fade: Fade, at: float, way: int, grid: BeatGrid) -> float:
    """Seconds of a fade that begins (way 1) or ends (way -1) at the second ``at``."""
    if fade.bars:
        length = abs(grid.time_of_bar(float(grid.musical_time([at]).bar[0]) + way * fade.bars) - at)
    elif fade.beats:
        length = abs(grid.time_of_beat(float(grid.beat_at([at])[0]) + way * fade.beats) - at)
    else:
        length = fade.seconds or 0.0
    return length if length > BRIEFEST else 0.0


class Envelope(NamedTuple):
    """A cue at f moments; three float64 arrays of shape (f,)."""

    strength: Floats
    """0..1: 0 outside the spans, 1 where a fade has come and the other has not begun."""
    progress: Floats
    """0..1 across the span; 0 outside."""
    start_beat: Floats
    """The beat at which the span began, counted from 0 at the first downbeat; 0 outside."""


def envelope(spans: Sequence[Span], grid: BeatGrid, seconds: ArrayLike) -> Envelope:
    """How strong a cue with these ``spans`` is at ``seconds`` (f,), how far along, and since which beat."""
    moments = np.asarray(seconds, np.float64)
    strength, progress, start_beat = (np.zeros_like(moments) for _ in range(3))
    if not spans:
        return Envelope(strength, progress, start_beat)
    beats = grid.beat_at(moments)
    order = np.searchsorted([span.start for span in spans], moments, side="right") - 1
    for index in np.flatnonzero(np.bincount(order[order >= 0])).tolist():
        span = spans[index]
        here = (order == index) & (moments < span.end)
        knots = _knots(span, grid)
        clock = beats[here] if span.in_beats else moments[here]
        strength[here] = _strength(span, knots, clock)
        progress[here] = np.clip((clock - knots[0]) / (knots[3] - knots[0]), 0.0, 1.0)
        start_beat[here] = knots[0] if span.in_beats else grid.beat_at([span.start])[0]
    return Envelope(strength, progress, start_beat)


def _knots(span: Span, grid: BeatGrid) -> Floats:
    """Where the span starts, has come, begins to go, and ends, on its own clock."""
    seconds = np.array([span.start, span.start + span.fade_in, span.end - span.fade_out, span.end])
    return grid.musical_time(seconds).beat if span.in_beats else seconds


def _strength(span: Span, knots: Floats, clock: Floats) -> Floats:
    strength = np.ones_like(clock)
    if knots[1] > knots[0]:
        come = np.clip((clock - knots[0]) / (knots[1] - knots[0]), 0.0, 1.0)
        strength *= np.clip(span.ease_in(come), 0.0, 1.0)
    if knots[3] > knots[2]:
        gone = np.clip((clock - knots[2]) / (knots[3] - knots[2]), 0.0, 1.0)
        strength *= 1 - np.clip(span.ease_out(gone), 0.0, 1.0)
    return strength


def bar_text(seconds: float, grid: BeatGrid) -> str:
    """The bar at ``seconds``, counted from 1 as people do: ``9``, or ``9.5`` half-way through it."""
    bar = round(float(grid.musical_time([seconds]).bar[0]) + 1, 2)
    return f"{math.floor(bar)}" if bar == math.floor(bar) else f"{bar:g}"
