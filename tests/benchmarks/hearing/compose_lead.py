"""Tunes: rhythms of a bar that come back with changes, on notes that walk along the scale to notes of the chord."""

from itertools import pairwise

import numpy as np
from compose_genres import Genre
from compose_harmony import scale_of
from compose_plan import Bar, Note, Plan, chord_at, swung

# How likely a note begins: on the first beat, another beat, half a beat (or a third), any finer step.
DENSITY = {
    "sparse": (0.75, 0.4, 0.15, 0.0), "medium": (0.8, 0.7, 0.4, 0.06), "busy": (0.6, 0.6, 0.6, 0.25),
    "running": (0.97, 0.97, 0.93, 0.8), "hymn": (1.0, 0.97, 0.12, 0.0), "ragged": (0.8, 0.45, 0.6, 0.6),
}  # fmt: skip


def tune(plan: Plan) -> list[Note]:
    """Notes of the part in front through the whole song."""
    notes, only = [], all(part.name == "lead" for part in plan.genre.parts)
    seen: dict[str, int] = {}
    groups = _by_section(plan.bars)
    for bars in groups:
        section = bars[0].section
        again = seen[section.label] = seen.get(section.label, 0) + 1
        silent = section.energy == 4 or (section.label in ("intro", "break", "outro", "build") and section.seed % 2)
        if silent and not only:
            continue
        notes += _section_tune(plan, bars, again)
    if plan.pickup:
        notes += _pickup(plan, notes)
    return _held(notes)


def _by_section(bars: list[Bar]) -> list[list[Bar]]:
    groups: list[list[Bar]] = []
    for bar in bars:
        if bar.number == 0:
            groups.append([])
        groups[-1].append(bar)
    return groups


def _section_tune(plan: Plan, bars: list[Bar], again: int) -> list[Note]:
    section, steps = bars[0].section, plan.genre.steps
    rng = np.random.default_rng([section.seed, 3])
    vary = np.random.default_rng([section.seed, again])
    rhythms = [_rhythm(plan.genre, max(bar.beats for bar in bars), rng) for _ in range(4)]
    order = (0, 1, 0, 2, 0, 1, 3, 2)
    scale = scale_of(section.chords, plan.tonic)
    pitch, notes = int(70 + rng.integers(-3, 6)), []
    for bar in bars:
        for step in range(bar.beats * steps):
            begins = rhythms[order[bar.number % 8]][step]
            if vary.random() < 0.04 * (again > 1):
                begins = not begins
            drawn = rng.random(3)
            if not begins:
                continue
            chord = chord_at(bar, bar, step / steps)
            pitch = walk(pitch, scale, {(chord.root + tone) % 12 for tone in chord.shape}, step % steps == 0, drawn)
            level = 82 + 14 * (step == 0) + 6 * (step % steps == 0) + 10 * drawn[2]
            notes.append(Note(bar.start + swung(step / steps, plan), 1 / steps, pitch, level, "lead"))
    return notes


def _rhythm(genre: Genre, beats: int, rng: np.random.Generator) -> np.ndarray:
    """Which steps of a bar begin a note; some bars let go of a beat for the half before it (a syncope)."""
    odds, steps = DENSITY[genre.part("lead").patterns[0]], genre.steps
    places = np.arange(beats * steps)
    inside = places % steps
    half = (inside % (steps // 2) == 0) if steps in (4, 8) else (inside % 2 == 0 if steps == 6 else inside > 0)
    chance = np.where(places == 0, odds[0], np.where(inside == 0, odds[1], np.where(half, odds[2], odds[3])))
    begins = rng.random(beats * steps) < chance
    if genre.word("form") in ("song", "jazz", "dance") and steps in (2, 4) and rng.random() < 0.5:
        beat = int(rng.integers(1, beats)) * steps if beats > 1 else 0
        begins[beat] = False
        begins[beat - steps // 2] = True
    return begins


def walk(pitch: int, scale: list[int], chord: set[int], strong: bool, drawn: np.ndarray) -> int:
    """The next pitch: mostly a step or two along the scale, on strong places a note of the chord."""
    wanted = pitch + round((drawn[0] - 0.5) * (10 if drawn[1] < 0.2 else 5)) - (pitch > 79) * 3 + (pitch < 65) * 3
    allowed = chord if strong else set(scale)
    near = [place for place in range(wanted - 7, wanted + 8) if place % 12 in allowed]
    return min(near, key=lambda place: (abs(place - wanted), place))


def _pickup(plan: Plan, notes: list[Note]) -> list[Note]:
    """Notes from the start of the song to the first bar, stepping up to the tune."""
    first = min(notes, key=lambda one: one.beat, default=None)
    if first is None or first.beat > plan.pickup + plan.genre.metre:
        return []
    return [Note(float(beat), 0.9, first.pitch - 2 * (plan.pickup - beat), 88, "lead") for beat in range(plan.pickup)]


def _held(notes: list[Note]) -> list[Note]:
    """Every note lasts to the next, two beats at most."""
    notes.sort(key=lambda one: one.beat)
    for one, after in pairwise(notes):
        one.length = float(np.clip((after.beat - one.beat) * 0.95, 0.1, 2.0))
    return notes
