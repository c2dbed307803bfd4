"""What light answers to in a song: its events, from the text beside it and from what is heard."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from eavesong.music.accents import find_arrivals, find_hits, find_stops
from eavesong.music.events import END, Event, Events
from eavesong.music.stress import find_stresses
from eavesong.music.swells import find_builds, find_fills, find_phrases

if TYPE_CHECKING:
    from collections.abc import Sequence

    from eavesong.music.grid import BeatGrid
    from eavesong.music.lead import LeadNote
    from eavesong.music.signals import Signals
    from eavesong.music.sketch import Sketch

NARROWEST = 12.0
"""Semitones that the lead's pitch 0 to 1 spans at least."""
REST = 0.12
"""Seconds of a rest between two notes of the lead from which it is one."""
LOWEST_PITCH = 0.01
"""Strength of the lowest note of the lead: 0 would be nothing."""


def find_events(sketch: Sketch, signals: Signals, grid: BeatGrid) -> Events:
    """Everything that is heard in a song with these beats."""
    stops = find_stops(sketch, grid)
    phrases = find_phrases(signals, grid)
    builds = find_builds(sketch, signals, grid, stops)
    ends = [(event.time, _strength(spans, event)) for spans in (stops, builds) for event in spans if _is_end(event)]
    arrivals = find_arrivals(ends, grid)
    events = [*stops, *phrases, *builds, *arrivals, *find_hits(sketch, grid, arrivals)]
    events += [*find_fills(sketch, grid, phrases), *_struck(sketch), *lead_events(sketch.lead)]
    events += find_stresses(signals, grid)
    return Events.of(events)


def _is_end(event: Event) -> bool:
    return event.label.endswith(END)


def _strength(spans: Sequence[Event], end: Event) -> float:
    """The strength of the span that an end ends."""
    return max((event for event in spans if event.time < end.time and not _is_end(event)), default=end).strength


def _struck(sketch: Sketch) -> list[Event]:
    return [
        Event(round(float(time), 3), kind, round(max(float(strength), 0.01), 3))
        for kind, strokes in sketch.strokes.items()
        for time, strength in zip(strokes.times, strokes.strengths, strict=True)
    ]


def lead_events(notes: Sequence[LeadNote]) -> list[Event]:
    """The notes of the lead, their pitch as 0 to 1 of its range in this song, and the ends of those before a rest.

    0 and 1 are the 5th and 95th percentile of its notes, at least an octave apart.
    """
    if not notes:
        return []
    low, high = np.percentile([note.pitch for note in notes], (5, 95))
    span = max(float(high - low), NARROWEST)
    events = []
    for note, after in zip(notes, [*notes[1:], None], strict=True):
        pitch = 0.5 + (note.pitch - (low + high) / 2) / span
        events.append(Event(note.start, "lead", round(float(np.clip(pitch, LOWEST_PITCH, 1.0)), 3)))
        if after is None or after.start - note.end > REST:
            events.append(Event(note.end, "lead" + END))
    return events
