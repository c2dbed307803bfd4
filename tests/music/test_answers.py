"""What is heard of strokes, stops, hits, builds, fills, phrases and the lead in sounds whose every note is known.

Drums, basses and voices are those of the demo's own band (`eavesong.demo.synth`), which nothing here was trained on.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from eavesong.demo import synth
from eavesong.music import BeatGrid, Event, Events, Section, Signals
from eavesong.music.accents import find_arrivals
from eavesong.music.answers import find_events, lead_events
from eavesong.music.bands import gather, powers_meter
from eavesong.music.ear import ear_meters
from eavesong.music.lead import LeadNote
from eavesong.music.signals import signals_of
from eavesong.music.sketch import Sketch, kept_sketch, sketch_kept, sketch_of
from eavesong.music.sound import Sound
from eavesong.music.strokes import Strokes
from eavesong.music.swells import build_candidates
from eavesong.music.tones import tones_meter

BEAT = 0.5
BARS = 18
RATE = synth.RATE
SECTIONS = (Section(0.0, 16.0, "A"), Section(16.0, 36.0, "B"))
GRID = BeatGrid(
    tuple(BEAT * k for k in range(4 * BARS)), tuple(k % 4 + 1 for k in range(4 * BARS)), SECTIONS, 4 * BARS * BEAT
)
STOP = (19.0, 20.0)
"""Silence on the last two beats of bar 10."""
HIT = 12.0
BUILD = (24.0, 32.0)
"""Bars 13 to 16 grow to the loud ones after them."""
TUNE = (69, 71, 72, 76, 74, 72, 71, 69)


def _put(mix: np.ndarray, wave: np.ndarray, seconds: float, gain: float) -> None:
    begin = round(seconds * RATE)
    part = mix[begin : begin + len(wave)]
    part += gain * wave[: len(part)]


def strokes() -> dict[str, np.ndarray]:
    """Bass drum on 1 and 3, snare on 2 and 4, hi-hat on every half beat; in the last bars of both halves a fill."""
    low, middle, high = [], [], []
    for beat in range(4 * BARS):
        (low if beat % 2 == 0 else middle).append(beat * BEAT)
        high += [beat * BEAT, (beat + 0.5) * BEAT]
    middle += [14.0 + 0.125 * k for k in range(16) if (14.0 + 0.125 * k) not in middle]
    middle += [28.25 + 0.25 * k for k in range(15) if k % 4 != 1]
    found = {"low": low, "middle": middle, "high": high}
    silent = {kind: [at for at in times if not STOP[0] <= at < STOP[1]] for kind, times in found.items()}
    return {kind: np.unique(times) for kind, times in silent.items()}


@cache
def heard() -> Events:
    """The events of a song of 36 s: drums, bass and chords, a voice from 4 to 12 s, a stop, a hit, a build."""
    mix = np.zeros(round(4 * BARS * BEAT * RATE))
    drums = {"low": (synth.kick(), 0.8), "middle": (synth.snare(), 0.6), "high": (synth.hat(), 0.4)}
    for kind, times in strokes().items():
        for at in times:
            growth = float(np.interp(at, (BUILD[0] - 0.1, BUILD[0], BUILD[1]), (0.6, 0.1, 1.0)))
            _put(mix, drums[kind][0], at, drums[kind][1] * growth)
    for beat in range(0, 4 * BARS, 2):
        if not STOP[0] <= beat * BEAT < STOP[1]:
            level = float(np.interp(beat * BEAT, (BUILD[0] - 0.1, BUILD[0], BUILD[1]), (0.25, 0.05, 0.3)))
            _put(mix, synth.bass(33 + beat // 8 % 3, 0.9), beat * BEAT, level)
    for bar in range(BARS):
        seconds = STOP[0] - 18.0 if bar == 9 else 2.0
        level = float(np.interp(2.0 * bar, (BUILD[0] - 0.1, BUILD[0], BUILD[1]), (0.15, 0.03, 0.25)))
        for pitch in (57, 60, 64):
            _put(mix, synth.pad(pitch, seconds), 2.0 * bar, level)
    for at, pitch in enumerate(TUNE):
        _put(mix, synth.lead(pitch, 0.95), 4.0 + at, 0.8)
    for wave, gain in ((synth.kick(), 1.2), (synth.snare(), 1.2), (synth.crash(), 1.2), (synth.pluck(45, 0.5), 1.0)):
        _put(mix, wave, HIT, gain)
    mix *= 0.5 / np.abs(mix).max()
    blocks = [mix[begin : begin + 50_000, None].astype(np.float32) for begin in range(0, len(mix), 50_000)]
    sound = Sound("song", RATE, 1, lambda: iter(blocks))
    powers, fine, tones = gather(sound, [powers_meter(RATE), ear_meters(RATE)[0], tones_meter(RATE)])
    sketch = sketch_kept(kept_sketch(sketch_of(powers, fine, tones)))
    return find_events(sketch, signals_of(powers), GRID)


@pytest.mark.parametrize(("kind", "least"), [("low", 0.9), ("middle", 0.85), ("high", 0.8)])
def test_strokes_are_heard_within_fifty_milliseconds(kind: str, least: float) -> None:
    import mir_eval

    found = np.array([event.time for event in heard().labelled(kind)])
    # mir_eval.onset: F of one-to-one matches within 50 ms, as in MIREX.
    assert mir_eval.onset.f_measure(np.unique(strokes()[kind]), found, window=0.05)[0] >= least


def test_the_silence_inside_the_music_is_a_stop_and_the_next_downbeat_an_arrival() -> None:
    stops = heard().spans("stop")
    assert len(stops) == 1
    assert stops[0][0] == pytest.approx(STOP[0], abs=0.3)
    assert stops[0][1] == pytest.approx(STOP[1], abs=0.05)
    assert any(event.time == pytest.approx(STOP[1], abs=0.05) for event in heard().labelled("arrival"))


def test_the_stroke_of_everybody_is_a_hit() -> None:
    hits = [event.time for event in heard().labelled("hit")]
    assert any(abs(time - HIT) < 0.06 for time in hits)
    assert len(hits) <= 2


def test_bars_that_grow_may_be_a_build_and_grow_by_as_much_as_they_do() -> None:
    # Bars that grow by 9 dB from the first to the last, steadily, from a level of -30 dB on; 6 dB are 1.
    level = np.full(36 * 100, -20.0)
    bars = np.arange(len(level)) // 200
    growing = (bars >= 8) & (bars < 12)
    level[growing] = -30 + 3.0 * (bars[growing] - 8)
    none = {kind: Strokes(np.zeros(0), np.zeros(0)) for kind in ("low", "middle", "high")}
    sketch = Sketch(level.astype(np.float16), np.zeros(3600, np.float16), np.zeros(3600, np.float16), none, ())
    still = Signals(100.0, *[np.zeros(3600, np.float16)] * 6, spectrum=np.zeros((3600, 32), np.uint8))
    spans, figures = build_candidates(sketch, still, GRID)
    found = {tuple(span): row for span, row in zip(spans.tolist(), figures, strict=True)}
    assert found[8, 12][:1] == pytest.approx([9 / 6], abs=0.01)
    assert found[8, 12][3] == pytest.approx(1.0, abs=1e-3)
    assert (0, 4) not in found


def test_an_arrival_is_the_downbeat_after_what_ends() -> None:
    ends = [(7.97, 0.4), (12.6, 0.7), (13.9, 0.9)]  # a bar lasts 2 s; two things end before one downbeat
    assert find_arrivals(ends, GRID) == [Event(8.0, "arrival", 0.4), Event(14.0, "arrival", 0.9)]


def test_the_bar_of_more_strokes_before_the_section_ends_is_a_fill() -> None:
    assert [(start, end) for start, end, _ in heard().spans("fill") if end == 16.0] in ([(14.0, 16.0)], [(15.0, 16.0)])


def test_sections_are_divided_into_phrases_of_two_four_or_eight_bars() -> None:
    starts = [event.time for event in heard().labelled("phrase")]
    assert {0.0, 16.0} <= set(starts)
    lengths = np.diff([*starts, 36.0]) / (4 * BEAT)
    assert set(lengths) <= {2.0, 4.0, 8.0}


def test_the_voice_leads_with_its_tune() -> None:
    moments = np.arange(4.25, 12, 0.5)
    values = heard().at(moments, GRID)
    assert values["lead"].mean() >= 0.85
    # Every second lies on one note of the tune; a semitone is the same share of the range everywhere.
    sung = np.repeat(TUNE, 2).astype(float)
    slope, start = np.polyfit(sung, values["lead_pitch"], 1)
    assert np.mean(np.abs(values["lead_pitch"] - start - slope * sung) < slope) >= 0.75


def test_pitches_are_shares_of_the_songs_range_of_an_octave_at_least() -> None:
    notes = [LeadNote(k, k + 0.5, pitch) for k, pitch in enumerate((60, 64, 67))]
    # The 5th and 95th percentile are 60.4 and 66.7; the octave around their middle goes from 57.55 to 69.55.
    assert [event.strength for event in lead_events(notes) if event.label == "lead"] == pytest.approx(
        [(60 - 57.55) / 12, (64 - 57.55) / 12, (67 - 57.55) / 12], abs=1e-3
    )
    assert [event.time for event in lead_events(notes) if event.label == "lead-end"] == [0.5, 1.5, 2.5]


def test_nothing_happens_in_silence() -> None:
    blocks = [np.zeros((RATE * 8, 1), np.float32)]
    sound = Sound("silence", RATE, 1, lambda: iter(blocks))
    powers, fine, tones = gather(sound, [powers_meter(RATE), ear_meters(RATE)[0], tones_meter(RATE)])
    events = find_events(sketch_of(powers, fine, tones), signals_of(powers), GRID)
    assert {event.label for event in events.items} <= {"phrase"}
