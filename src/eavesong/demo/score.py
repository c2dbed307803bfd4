"""Scores, and playing them: every beat of the music is known, because it is written."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from eavesong.demo.synth import INSTRUMENTS, RATE, duck, finish, reverberate
from eavesong.music.grid import BeatGrid, Section

if TYPE_CHECKING:
    from eavesong.demo.synth import Wave

SCALES = {"major": (0, 2, 4, 5, 7, 9, 11), "minor": (0, 2, 3, 5, 7, 8, 10), "dorian": (0, 2, 3, 5, 7, 9, 10)}
"""Semitones above the keynote (common practice)."""

LEAD_IN = 0.5
"""Seconds before the first beat."""
RING = 3.0
"""Seconds the last chord rings."""

GAIN = {
    "kick": 0.85, "snare": 0.62, "hats": 0.2, "crash": 0.3, "sleigh": 0.16, "riser": 0.35,
    "bass": 0.42, "pad": 0.16, "pluck": 0.36, "bells": 0.3, "lead": 0.26,
}  # fmt: skip
PAN = {"hats": 0.25, "sleigh": -0.3, "bells": 0.15, "snare": -0.05}
"""Where an instrument stands, -1 left to 1 right; pads and plucks spread out note by note."""
ROOM = {"drums": 0.06, "low": 0.0, "chords": 0.3, "tune": 0.35}
"""How much of each group the room answers."""
GROUP = {
    "kick": "drums", "snare": "drums", "hats": "drums", "crash": "drums", "sleigh": "drums", "riser": "drums",
    "bass": "low", "pad": "chords", "pluck": "chords", "bells": "tune", "lead": "tune",
}  # fmt: skip


@dataclass(frozen=True)
class Passage:
    """A section of a score."""

    label: str
    bars: int
    chords: str
    """Degrees of the scale, one a bar, over again as needed: ``1 6 4 5``."""
    layers: str
    """Who plays: names of INSTRUMENTS; ``riser`` sounds in the last bar, ``crash`` on the first beat."""
    tune: str = ""
    """Degree:beats, ``-`` for a rest, over again as needed: ``5:1 6:.5 -:.5``; 8 is the upper keynote."""
    voice: str = "lead"
    """Who plays the tune."""
    level: float = 1.0
    """How loud, 0 to 1."""
    tempo: tuple[float, float] | None = None
    """Beats a minute at the beginning and the end; that of the score otherwise."""
    beats: dict[str, str] = field(default_factory=dict)
    """Drum patterns that differ from the score's."""


@dataclass(frozen=True)
class Score:
    """A song as written."""

    title: str
    key: int
    """MIDI note number of the keynote, near 60."""
    scale: str
    beats_per_bar: int
    tempo: float
    drums: dict[str, str]
    """For each drum one bar in sixteenths: ``x`` full, ``o`` soft, ``.`` silent."""
    arpeggio: str
    """Chord notes of one bar in eighths: ``0 1 2 3 . 2 1 2``; 3 is the octave above 0."""
    bass: str
    """One bar in eighths: ``0`` keynote of the chord, ``1`` fifth, ``2`` octave, ``-`` holds, ``.`` rests."""
    passages: tuple[Passage, ...]
    pickup: str = ""
    """A tune before the first downbeat, written as in a passage; whole beats."""


@dataclass(frozen=True)
class Note:
    """One sound: who, when and for how long (in beats from the first downbeat), MIDI note number, how loud."""

    instrument: str
    beat: float
    beats: float
    pitch: float = 0.0
    level: float = 1.0


@dataclass(frozen=True, eq=False)
class Recording:
    """A score that was played."""

    sound: Wave
    """Float32 (n, 2) at 44,100 Hz, its peak at -1 dBFS."""
    grid: BeatGrid
    notes: tuple[Note, ...]


def synthesise(score: Score) -> Recording:
    """Play ``score``: the sound and the exact beats and sections it was played from; the same every time."""
    grid = grid_of(score)
    notes = tuple(_notes(score))
    count = round(grid.duration * RATE)
    groups = {name: np.zeros((count, 2), np.float32) for name in ROOM}
    for index, note in enumerate(notes):
        _play(groups[GROUP[note.instrument]], grid, note, index)
    dips = duck(count, [_sample(grid, note.beat) for note in notes if note.instrument == "kick"])[:, None]
    groups["chords"] *= dips
    groups["low"] *= 0.35 + 0.65 * dips
    send = np.sum([groups[name] * np.float32(share) for name, share in ROOM.items()], axis=0)
    return Recording(finish(np.sum(list(groups.values()), axis=0) + reverberate(send)), grid, notes)


def grid_of(score: Score) -> BeatGrid:
    """The exact beats and sections of a score; its last beat is the one the last chord is struck on."""
    pickup = round(_length(score.pickup))
    tempi = [score.passages[0].tempo[0] if score.passages[0].tempo else score.tempo] * pickup
    for passage in score.passages:
        begin, end = passage.tempo or (score.tempo, score.tempo)
        tempi += np.linspace(begin, end, passage.bars * score.beats_per_bar, endpoint=False).tolist()
    times = np.round(LEAD_IN + np.concatenate([[0.0], np.cumsum(60.0 / np.array(tempi))]), 6)
    positions = [(beat - pickup) % score.beats_per_bar + 1 for beat in range(len(times))]
    starts = pickup + np.cumsum([0] + [passage.bars * score.beats_per_bar for passage in score.passages])
    duration = round((float(times[-1]) + RING) * RATE) / RATE  # whole samples, as the sound has
    edges = [0.0, *times[starts[1:-1]].tolist(), duration]
    sections = tuple(
        Section(edges[number], edges[number + 1], passage.label) for number, passage in enumerate(score.passages)
    )
    return BeatGrid(tuple(times), tuple(positions), sections, duration)


def _sample(grid: BeatGrid, beat: float) -> int:
    return round(grid.time_of_beat(beat) * RATE)


def _play(group: Wave, grid: BeatGrid, note: Note, index: int) -> None:
    begin, end = grid.time_of_beat(note.beat), grid.time_of_beat(note.beat + note.beats)
    # Lengths in steps of 10 ms, so that notes are found again in the instruments' memory.
    wave = INSTRUMENTS[note.instrument](note.pitch, max(round(end - begin, 2), 0.05))
    spread = (-0.45, 0.45, -0.2, 0.2)[index % 4] if GROUP[note.instrument] == "chords" else 0.0
    pan = PAN.get(note.instrument, spread)
    into = group[round(begin * RATE) :][: len(wave)]
    sides = np.array([1 - max(pan, 0), 1 + min(pan, 0)], np.float32) * np.float32(GAIN[note.instrument])
    into += wave[: len(into), None] * (sides * np.float32(note.level))


def _notes(score: Score) -> Iterator[Note]:
    yield from _tune(score, score.pickup, -_length(score.pickup), _length(score.pickup), score.passages[0])
    beat = 0.0
    for passage in score.passages:
        beats = passage.bars * score.beats_per_bar
        for bar in range(passage.bars):
            yield from _bar(score, passage, bar, beat + bar * score.beats_per_bar)
        yield from _tune(score, passage.tune, beat, beats, passage)
        beat += beats
    yield from _last(score, beat)


def _bar(score: Score, passage: Passage, bar: int, beat: float) -> Iterator[Note]:
    layers = passage.layers.split()
    degrees = passage.chords.split()
    degree = int(degrees[bar % len(degrees)])
    patterns = score.drums | passage.beats
    for drum in ("kick", "snare", "hats", "sleigh"):
        if drum in layers and drum in patterns:
            yield from _drum(drum, patterns[drum], beat, passage.level)
    if "crash" in layers and bar == 0:
        yield Note("crash", beat, 1, level=passage.level)
    if "riser" in layers and bar == passage.bars - 1:
        yield Note("riser", beat, score.beats_per_bar, level=passage.level)
    if "bass" in layers:
        yield from _bass(score, degree, beat, passage.level)
    for voice in ("pad", "pluck"):
        if voice in layers:
            yield from _chord(score, voice, chord(score, degree), beat, passage.level)


def _drum(drum: str, pattern: str, beat: float, level: float) -> Iterator[Note]:
    for step, mark in enumerate(pattern.replace(" ", "")):
        if mark != ".":
            yield Note(drum, beat + step / 4, 0.25, level=level * (1.0 if mark == "x" else 0.5))


def _bass(score: Score, degree: int, beat: float, level: float) -> Iterator[Note]:
    steps = score.bass.split()
    root = _fold(score.key + _semitones(score, degree), 34)
    for step, mark in enumerate(steps):
        if mark.isdigit():
            held = next((more for more in range(step + 1, len(steps)) if steps[more] != "-"), len(steps)) - step
            yield Note("bass", beat + step / 2, held / 2, root + (0, 7, 12)[int(mark)], level)


def _chord(score: Score, voice: str, pitches: list[int], beat: float, level: float) -> Iterator[Note]:
    if voice == "pad":
        for pitch in pitches:
            yield Note("pad", beat, score.beats_per_bar + 0.1, pitch, level)
        return
    for step, mark in enumerate(score.arpeggio.split()):
        if mark.isdigit():
            octave, tone = divmod(int(mark), 3)
            yield Note("pluck", beat + step / 2, 1.0, pitches[tone] + 12 * octave + 12, level)


def _tune(score: Score, tune: str, beat: float, beats: float, passage: Passage) -> Iterator[Note]:
    """The tune over and over until ``beats`` are full."""
    words = [word.split(":") for word in tune.split()]
    now = 0.0
    while words and now < beats - 1e-9:
        for degree, length in words:
            held = min(float(length), beats - now)
            if degree != "-" and held > 0:
                pitch = score.key + 12 + _semitones(score, int(degree))
                yield Note(passage.voice, beat + now, held, pitch, 0.4 + 0.6 * passage.level)
            now += float(length)


def _last(score: Score, beat: float) -> Iterator[Note]:
    """The keynote's chord that ends the song."""
    beats = 4.0
    yield from (Note("kick", beat, 1), Note("crash", beat, 1, level=0.7))
    yield Note("bass", beat, beats, _fold(score.key, 34))
    for pitch in chord(score, 1):
        yield from (Note("pad", beat, beats, pitch), Note("bells", beat, beats, pitch + 12, 0.7))


def chord(score: Score, degree: int) -> list[int]:
    """The triad on a degree of the scale as MIDI note numbers, lowest first, brought near middle C."""
    return sorted(_fold(score.key + _semitones(score, degree + step), 54) for step in (0, 2, 4))


def _semitones(score: Score, degree: int) -> int:
    """Semitones from the keynote to a degree counted from 1; 8 is the octave, 0 lies just under the keynote."""
    octave, step = divmod(degree - 1, 7)
    return 12 * octave + SCALES[score.scale][step]


def _fold(pitch: int, lowest: int) -> int:
    return lowest + (pitch - lowest) % 12


def _length(tune: str) -> float:
    return sum(float(word.split(":")[1]) for word in tune.split())
