"""Events: what light answers to in a song, as a list that can be read, mended and followed.

An *event* is a time, a label and a strength. Most are points: strokes, stresses, hits, arrivals, starts of phrases.
Stops, fills, builds and the notes of the lead last until the event of the same label with ``-end``.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from eavesong.music.grid import BeatGrid

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

POINTS = {
    "low": "a low drum stroke, as of a bass drum",
    "middle": "a middle drum stroke, as of a snare, a clap or a tom",
    "high": "a high drum stroke, as of a hi-hat, a cymbal or a shaker",
    "hit": "one strong common stroke that stands out",
    "arrival": "the downbeat after a stop or a build",
    "stress": "a beat on which more begins than on those beside it",
    "phrase": "the start of a phrase of 2, 4 or 8 bars",
}
"""Labels of events without length, and what they mean."""
SPANS = {
    "stop": "silence of half a beat or more inside the music",
    "fill": "the bar or half bar before a phrase ends, denser than its neighbours",
    "build": "bars that grow until something arrives",
    "lead": "a note of the voice or instrument in front; its strength is its pitch, 0 to 1 of the song's range",
}
"""Labels of events that last, and what they mean."""
END = "-end"
LABELS = (*POINTS, *SPANS, *(label + END for label in SPANS))
LONG_AGO = 1e6
"""Beats since an event that has not been yet."""
HAIR = 1e-6
"""Seconds: 0.29 s × 100 is a hair below 29."""

STRUCK = ("low", "middle", "high", "stress", "hit", "arrival")
"""Points that effects follow by strength, age and count."""
LASTING = ("stop", "fill", "build")
"""Spans that effects follow by strength and progress."""


@dataclass(frozen=True, order=True)
class Event:
    """Something at ``time`` (seconds); ``strength`` is 0 to 1, and 0 is nothing at all."""

    time: float
    label: str
    strength: float = 1.0


@dataclass(frozen=True)
class Events:
    """A song's events, in order of time."""

    items: tuple[Event, ...] = ()

    @classmethod
    def of(cls, items: Iterable[Event]) -> Events:
        """Events in any order, put in order."""
        return cls(tuple(sorted(items)))

    def labelled(self, label: str) -> tuple[Event, ...]:
        """The events of a label that are something, in order of time."""
        return self._by_label.get(label, ())

    def spans(self, label: str) -> tuple[tuple[float, float, float], ...]:
        """Start, end (seconds) and strength of every span of a label; one without an end lasts until the next."""
        edges = sorted([*self.labelled(label + END), *self.labelled(label)], key=lambda each: each.time)
        spans = []
        for begin, after in pairwise(edges):
            if begin.label == label and after.time > begin.time:
                spans.append((begin.time, after.time, begin.strength))
        return tuple(spans)

    def given_way(self, others: Events) -> Events:
        """These events, but those of every label that ``others`` name are theirs."""
        named = {each.label.removesuffix(END) for each in others.items}
        kept = [each for each in self.items if each.label.removesuffix(END) not in named]
        return Events.of([*kept, *others.items])

    def at(self, seconds: ArrayLike, grid: BeatGrid | None) -> dict[str, Floats]:
        """What effects read at ``seconds`` (f,): float64 (f,) by name; that of no events where there is no ``grid``."""
        moments = np.atleast_1d(np.asarray(seconds, dtype=np.float64))
        if grid is None:
            return NOTHING.at(moments, _NO_BEATS)
        beats = grid.beat_at(moments)
        found: dict[str, Floats] = {}
        for label in STRUCK:
            found |= self._struck(label, moments, beats, grid)
        for label in LASTING:
            strength, progress = self._lasting(label, moments)
            found |= {label: strength, f"{label}_progress": progress}
        return found | self._lead(moments) | self._phrase(moments, grid)

    @cached_property
    def _by_label(self) -> dict[str, tuple[Event, ...]]:
        labels = {each.label for each in self.items}
        return {
            label: tuple(each for each in self.items if each.label == label and each.strength > 0) for label in labels
        }

    def _struck(self, label: str, moments: Floats, beats: Floats, grid: BeatGrid) -> dict[str, Floats]:
        """Strength of the last one, beats since it, and how many there have been."""
        events = self.labelled(label)
        times = np.array([each.time for each in events])
        count = np.searchsorted(times, moments + HAIR, side="right")
        known = count > 0
        if not len(events):
            strength, age = np.zeros(len(moments)), np.full(len(moments), LONG_AGO)
        else:
            last = np.maximum(count - 1, 0)
            strength = np.where(known, np.array([each.strength for each in events])[last], 0.0)
            age = np.where(known, np.maximum(beats - grid.beat_at(times)[last], 0.0), LONG_AGO)
        return {f"{label}_strength": strength, f"{label}_age": age, f"{label}_count": count.astype(np.float64)}

    def _lasting(self, label: str, moments: Floats) -> tuple[Floats, Floats]:
        """Strength of the span that is on, 0 where none is, and how far through it."""
        spans = self.spans(label)
        if not spans:
            return np.zeros(len(moments)), np.zeros(len(moments))
        starts, ends, strengths = np.array(spans).T
        last = np.searchsorted(starts, moments + HAIR, side="right") - 1
        held = np.maximum(last, 0)
        on = (last >= 0) & (moments + HAIR < ends[held])
        progress = np.clip((moments - starts[held]) / (ends[held] - starts[held]), 0.0, 1.0)
        return np.where(on, strengths[held], 0.0), np.where(on, progress, 0.0)

    def _lead(self, moments: Floats) -> dict[str, Floats]:
        """Whether the lead is active, and its pitch, which stays where it was until the next note."""
        spans = self.spans("lead")
        if not spans:
            return {"lead": np.zeros(len(moments)), "lead_pitch": np.zeros(len(moments))}
        starts, ends, pitches = np.array(spans).T
        last = np.searchsorted(starts, moments + HAIR, side="right") - 1
        held = np.maximum(last, 0)
        on = (last >= 0) & (moments + HAIR < ends[held])
        return {"lead": on.astype(np.float64), "lead_pitch": np.where(last >= 0, pitches[held], 0.0)}

    def _phrase(self, moments: Floats, grid: BeatGrid) -> dict[str, Floats]:
        """Which phrase of its section this is, from 0, how far through it, and how many bars it has."""
        starts = np.array([0.0, *(each.time for each in self.labelled("phrase") if each.time > 0)])
        ends = np.append(starts[1:], max(grid.duration, starts[-1] + 1e-3))
        last = np.maximum(np.searchsorted(starts, moments + HAIR, side="right") - 1, 0)
        sections = grid.musical_time(starts + HAIR).section
        number = np.arange(len(starts)) - np.searchsorted(sections, sections, side="left")
        bars = np.rint(grid.musical_time(ends).bar - grid.musical_time(starts).bar)
        progress = np.clip((moments - starts[last]) / (ends[last] - starts[last]), 0.0, 1.0)
        return {
            "phrase": number[last].astype(np.float64),
            "phrase_progress": progress,
            "phrase_bars": np.maximum(bars, 1.0)[last],
        }


NOTHING = Events()
"""No events at all."""
_NO_BEATS = BeatGrid((0.0, 1.0), (1, 2), (), 1.0)
