"""Events: what effects read of them at any moment, worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from eavesong.language.builtins import EVENTS, SIGNALS
from eavesong.music import BeatGrid, Event, Events, Section
from eavesong.music.events import LABELS, LONG_AGO, NOTHING, POINTS, SPANS
from eavesong.music.signals import NAMES

# Two beats a second from 1 s on, then one; bars of four. Beat 0 is at 1 s, beat 4 at 3 s, beat 5 at 4 s.
TIMES = (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 7.0)
SECTIONS = (Section(0.0, 3.0, "A"), Section(3.0, 8.0, "B"))
GRID = BeatGrid(TIMES, (1, 2, 3, 4, 1, 2, 3, 4, 1), SECTIONS, 8.0)


def read(events: list[Event], name: str, *seconds: float) -> list[float]:
    return Events.of(events).at(seconds, GRID)[name].tolist()


def test_the_language_reads_what_events_give_and_nothing_else() -> None:
    assert set(NOTHING.at([0.0], GRID)) == set(EVENTS)
    assert set(SIGNALS) == {*NAMES, *EVENTS}


def test_a_stroke_has_a_strength_an_age_in_beats_and_a_number() -> None:
    strokes = [Event(3.5, "low", 0.4), Event(1.5, "low", 0.8), Event(2.0, "high", 1.0)]
    assert read(strokes, "low_strength", 1.49, 1.5, 3.4, 3.5) == [0.0, 0.8, 0.8, 0.4]
    # 1.5 s is beat 1, 2.5 s beat 3; 3.5 s is beat 4.5 and 5 s beat 6, as beats are a second long from 3 s on.
    assert read(strokes, "low_age", 1.5, 2.5, 3.5, 5.0) == [0.0, 2.0, 0.0, 1.5]
    assert read(strokes, "low_age", 1.0) == [LONG_AGO]
    assert read(strokes, "low_count", 0.0, 1.5, 3.4, 9.0) == [0.0, 1.0, 1.0, 2.0]
    assert read(strokes, "middle_count", 9.0) == [0.0]


def test_a_frame_that_falls_on_a_stroke_shows_it_whatever_rounding_does() -> None:
    # 29 / 100 is a hair below 0.29, and so are others: every hundredth must find the stroke at its time.
    for hundredth in range(200):
        stroke = Event(round(hundredth * 0.01, 2), "hit")
        assert read([stroke], "hit_count", hundredth / 100) == [1.0]


def test_a_span_has_a_strength_while_it_lasts_and_a_progress() -> None:
    build = [Event(2.0, "build", 0.6), Event(4.0, "build-end"), Event(6.0, "build", 0.5), Event(7.0, "build-end")]
    assert read(build, "build", 1.9, 2.0, 3.9, 4.0, 6.5) == [0.0, 0.6, 0.6, 0.0, 0.5]
    assert read(build, "build_progress", 2.0, 3.0, 4.0, 6.5) == [0.0, 0.5, 0.0, 0.5]


def test_notes_of_the_lead_follow_each_other_and_its_pitch_stays_in_rests() -> None:
    notes = [Event(1.0, "lead", 0.25), Event(2.0, "lead", 0.75), Event(3.0, "lead-end")]
    assert read(notes, "lead", 0.5, 1.0, 2.5, 3.5) == [0.0, 1.0, 1.0, 0.0]
    assert read(notes, "lead_pitch", 0.5, 1.0, 2.5, 3.5) == [0.0, 0.25, 0.75, 0.75]


def test_a_span_that_begins_where_one_ends_is_not_lost() -> None:
    events = Events.of([Event(1.0, "fill"), Event(2.0, "fill-end"), Event(2.0, "fill"), Event(3.0, "fill-end")])
    assert events.spans("fill") == ((1.0, 2.0, 1.0), (2.0, 3.0, 1.0))


def test_phrases_are_counted_inside_their_section() -> None:
    phrases = [Event(time, "phrase") for time in (1.0, 3.0, 7.0)]
    assert read(phrases, "phrase", 0.5, 1.5, 3.0, 7.5) == [0.0, 1.0, 0.0, 1.0]
    assert read(phrases, "phrase_progress", 3.0, 5.0) == [0.0, 0.5]
    assert read(phrases, "phrase_bars", 3.0) == [1.0]


def test_what_is_written_wins_label_by_label() -> None:
    heard = Events.of([Event(1.0, "hit"), Event(2.0, "low"), Event(3.0, "stop"), Event(4.0, "stop-end")])
    written = Events.of([Event(1.25, "hit", 0.5), Event(0.0, "stop", 0.0)])
    found = heard.given_way(written)
    assert found.labelled("hit") == (Event(1.25, "hit", 0.5),)
    assert found.labelled("low") == (Event(2.0, "low"),)
    assert found.spans("stop") == ()


def test_without_beats_nothing_happens() -> None:
    found = Events.of([Event(0.0, "hit")]).at([0.0, 1.0], None)
    quiet = [name for name in found if not name.endswith(("_age", "_bars", "_progress"))]
    assert not np.any([found[name] for name in quiet])
    assert found["hit_age"].tolist() == [LONG_AGO, LONG_AGO]


@pytest.mark.parametrize("label", [*POINTS, *SPANS])
def test_every_label_is_told_in_the_manual(label: str) -> None:
    from pathlib import Path

    manual = (Path(__file__).parents[2] / "docs" / "music.md").read_text()
    assert f"`{label}`" in manual
    assert label in LABELS
