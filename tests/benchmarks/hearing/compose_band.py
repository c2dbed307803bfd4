"""Turns the plan of a song into notes: drums, bass, chords, broken chords, pads, and the tune."""

from dataclasses import dataclass
from zlib import crc32

import numpy as np
from compose_genres import DRUMS, INSTRUMENTS, Part
from compose_harmony import Chord
from compose_lead import tune
from compose_plan import Bar, Note, Plan, chord_at, swung

LEVELS = {"X": 112, "x": 92, "o": 66, "g": 42, "?": 70}
CENTRES = {"bass": 33, "comp": 62, "arp": 53, "pad": 60, "lead": 72}
LIGHT = {"hat", "ride", "shaker", "kick", "pedal", "rim", "tamb", "sleigh", "conga"}
DRUM_CHANNEL = -1


@dataclass
class Band:
    """The notes of a song, and the General MIDI programme of each part (``DRUM_CHANNEL`` for drums)."""

    notes: list[Note]
    programmes: dict[str, int]


def perform(plan: Plan, rng: np.random.Generator) -> Band:
    """Every note of a song, at its place in beats."""
    parts = _line_up(plan, rng)
    programmes = {part.name: DRUM_CHANNEL if part.name in DRUMS else _programme(part, rng) for part in parts}
    keys = {part.name: int(rng.choice(DRUMS[part.name])) for part in parts if part.name in DRUMS}
    keys.setdefault("crash", 49)
    pushed = bool(plan.genre.word("push")) or (plan.genre.steps in (2, 4) and rng.random() < 0.12)
    plan.flags += ["pushed"] * pushed
    notes: list[Note] = []
    for at, bar in enumerate(plan.bars):
        after = plan.bars[at + 1] if at + 1 < len(plan.bars) else bar
        for part in _active(parts, bar, rng):
            notes += _play(plan, part, bar, after, keys, rng, pushed)
        notes += _extras(plan, parts, bar, keys, rng)
    if any(part.name == "lead" for part in parts):
        notes += tune(plan)
    notes = [note for note in notes if note.part in programmes or note.part in keys]
    if not any(note.part == "lead" and note.beat < plan.pickup for note in notes):
        plan.flags = [flag for flag in plan.flags if flag != "pickup"]
    notes += _opening(plan, keys) + _ending(plan, parts, keys, rng)
    return Band(notes, programmes | dict.fromkeys(("crash", "sticks", "toms"), DRUM_CHANNEL))


def _line_up(plan: Plan, rng: np.random.Generator) -> list[Part]:
    """The parts that play in this song: some bands have no drummer, no bass, nobody in front."""
    parts = list(plan.genre.parts)
    drums = [part for part in parts if part.name in DRUMS]
    pitched = [part for part in parts if part.name not in DRUMS]
    drop: set[str] = set()
    if drums and len(pitched) >= 2 and rng.random() < 0.14:
        drop |= {part.name for part in drums}
        plan.flags.append("no-drums")
    elif len(drums) >= 3:
        drop |= {part.name for part in drums if part.name not in ("kick", "snare") and rng.random() < 0.2}
        drop |= {"hat"} if rng.random() < 0.5 and any(part.name == "ride" for part in drums) else {"ride"} & set()
    if len(pitched) >= 3:
        drop |= {
            name for name, odds in (("lead", 0.22), ("arp", 0.3), ("pad", 0.3), ("bass", 0.06)) if rng.random() < odds
        }
    return [part for part in parts if part.name not in drop]


def _programme(part: Part, rng: np.random.Generator) -> int:
    return int(rng.choice(INSTRUMENTS[str(rng.choice(part.instruments))]))


def _active(parts: list[Part], bar: Bar, rng: np.random.Generator) -> list[Part]:
    """Who plays in a bar, by the section's energy; always somebody."""
    energy, fixed = bar.section.energy, np.random.default_rng(bar.section.seed + 7)
    drums = [part for part in parts if part.name in DRUMS]
    others = [part for part in parts if part.name not in DRUMS and part.name != "lead"]
    if not others or energy == 4:
        return drums or others
    if energy == 3:
        return drums + others
    if energy == 2:
        return drums + [part for part in others if part.name != "pad" or fixed.random() < 0.4]
    if energy == 1:
        light = [part for part in drums if part.name in LIGHT and fixed.random() < 0.6]
        return light + [part for part in others if part.name in ("bass", "comp", "arp")]
    quiet = [part for part in others if part.name != "bass" or fixed.random() < 0.3]
    return quiet or others


def _pattern(part: Part, bar: Bar) -> str:
    """The pattern of a part in a section: repeats of a section keep it, sections differ."""
    rng = np.random.default_rng([bar.section.seed, crc32(part.name.encode())])
    return str(rng.choice(part.patterns))


def _play(
    plan: Plan, part: Part, bar: Bar, after: Bar, keys: dict, rng: np.random.Generator, pushed: bool
) -> list[Note]:
    steps, pattern = plan.genre.steps, _pattern(part, bar)
    count = bar.beats * steps
    # A bar of unusual length begins its pattern anew; whole bars go on through patterns of several bars.
    offset = bar.number * plan.genre.metre * steps
    signs = [pattern[(offset + step) % len(pattern)] for step in range(count)]
    notes: list[Note] = []
    fill = bar.last and part.name in ("snare", "hat", "kick") and rng.random() < 0.4
    for step, sign in enumerate(signs):
        if sign in ".-" or (sign == "?" and rng.random() < 0.5) or (fill and step >= count - steps):
            continue
        length = 1
        while step + length < count and signs[step + length] == "-":
            length += 1
        place = bar.start + swung(step / steps, plan)
        span = length / steps if length > 1 else min(0.8 / steps, 0.4)
        level = LEVELS.get(sign, 88) * (0.72, 0.82, 0.94, 1.0, 1.0)[bar.section.energy] * (1.06 if step == 0 else 1.0)
        if part.name in DRUMS:
            notes.append(Note(place, 0.1, _key(part, keys, step), level, part.name))
            continue
        early = pushed and step == 0 and bar.start > plan.bars[0].start and part.name in ("comp", "bass")
        if early and np.random.default_rng(bar.start).random() < 0.5:
            place -= 0.5
        notes += _pitched(part, sign, chord_at(bar, after, step / steps), place, span, level, rng)
    return notes


def _key(part: Part, keys: dict[str, int], step: int) -> int:
    if part.name == "conga":
        return (62, 63, 64)[step % 3]
    return keys[part.name]


def _pitched(part: Part, sign: str, chord: Chord, place: float, span: float, level: float, rng) -> list[Note]:
    centre = CENTRES[part.name]
    if part.name == "bass":
        lowest = centre - 5
        pitch = chord.degree(sign, lowest) if sign.isdigit() else chord.degree("1", lowest) - 1
        return [Note(place, span, pitch, level, "bass")]
    if sign.isdigit():
        return [Note(place, max(span, 0.4), chord.ladder(centre, 9)[int(sign) - 1], level * 0.9, part.name)]
    tones = chord.tones(centre, 4 if part.name == "comp" else None)
    strum = rng.uniform(0, 0.012) if part.name == "comp" else 0.0
    tones = tones if rng.random() < 0.8 else tones[::-1]
    return [Note(place, span, tone, level * 0.8, part.name, strum * at) for at, tone in enumerate(tones)]


def _extras(plan: Plan, parts: list[Part], bar: Bar, keys: dict[str, int], rng: np.random.Generator) -> list[Note]:
    """A crash where a full section begins, a fill where a section ends."""
    names = {part.name for part in parts}
    notes: list[Note] = []
    if "kick" in names and bar.number == 0 and bar.section.energy >= 3 and rng.random() < 0.75:
        notes.append(Note(bar.start, 0.1, keys["crash"], 100, "crash"))
    if "snare" in names and bar.last and bar.section.energy >= 2 and rng.random() < 0.6:
        length = float(rng.choice([1, 1, 2, bar.beats]))
        steps = plan.genre.steps if plan.genre.steps != 2 else 4
        drums = rng.choice([[38], [38, 48, 45, 41], [50, 47, 43], [40, 41]][int(rng.integers(4))], int(length * steps))
        for at, key in enumerate(sorted(drums, reverse=True)):
            if rng.random() < 0.8:
                notes.append(
                    Note(bar.start + bar.beats - length + at / steps, 0.1, int(key), rng.uniform(70, 110), "toms")
                )
    return notes


def _opening(plan: Plan, keys: dict[str, int]) -> list[Note]:
    return [Note(float(beat), 0.1, 37 if plan.tempo < 110 else 42, 96, "sticks") for beat in range(plan.count_in)]


def _ending(plan: Plan, parts: list[Part], keys: dict[str, int], rng: np.random.Generator) -> list[Note]:
    """A last chord on the downbeat after the last bar; some songs just stop."""
    if rng.random() < 0.3:
        return []
    end, section = len(plan.beats), plan.bars[-1].section
    home = section.chords[0]
    notes = [
        Note(end, 0.1, key, 96, name) for name, key in keys.items() if name in ("kick", "crash") and "kick" in keys
    ]
    for part in parts:
        if part.name == "bass":
            notes.append(Note(end, 3, home.degree("1", 28), 90, "bass"))
        elif part.name in ("comp", "arp", "pad"):
            notes += [Note(end, 3, tone, 78, part.name) for tone in home.tones(CENTRES[part.name])]
        elif part.name == "lead":
            notes.append(Note(end, 3, home.tones(72)[0], 88, "lead"))
    return notes
