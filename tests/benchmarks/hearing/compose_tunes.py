"""Plays tunes from scores: instruments, an accompaniment for some, several rounds, with a player's freedom."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from compose_genres import INSTRUMENTS
from compose_harmony import Chord
from compose_plan import drift
from compose_render import DRUM_CHANNEL, Sound
from compose_scores import Family, Tune, beats_of
from compose_write import Truth

PLAYERS = {
    "fiddle": (
        "fiddle",
        "flute",
        "whistle",
        "accordion",
        "banjo",
        "piano",
        "nylon",
        "harpsi",
        "clarinet",
        "bagpipe",
        "harp",
    ),
    "song": (
        "voice",
        "flute",
        "oboe",
        "violin",
        "piano",
        "recorder",
        "choir",
        "nylon",
        "musicbox",
        "trumpet",
        "celesta",
    ),
    "choir": ("choir", "ooh", "church", "organ", "strings", "piano", "brass", "harpsi", "synstr", "vibes"),
    "consort": ("recorder", "strings", "nylon", "church", "oboe", "harp", "viola"),
    "strings": ("strings", "violin", "pizz", "piano", "accordion"),
    "piano": ("piano", "harpsi", "epiano", "marimba", "accordion"),
}
TRIADS = ((0, (0, 4, 7)), (5, (0, 4, 7)), (7, (0, 4, 7)), (9, (0, 3, 7)), (2, (0, 3, 7)))
TAPS = {"foot": (36, None), "bodhran": (41, 64), "tambourine": (54, 54), "brushes": (36, 40)}


@dataclass
class Played:
    """A tune by the clock, its truth, and what the manifest says."""

    sounds: list[Sound]
    programmes: dict[int, int]
    truth: Truth
    flags: list[str]


def play_tune(tune: Tune, family: Family, rng: np.random.Generator) -> Played:
    """Decide tempo, players and freedom, and set every note to the clock."""
    tempo = float(np.exp(rng.uniform(*np.log(family.tempo))))
    tempo *= 0.75 if tune.bars[0][2] == 3 and family.players != "choir" else 1.0  # a dotted half lasts longer
    notes, beats, downs = _rounds(tune, tempo)
    flags: list[str] = []
    ends = _fermatas(tune, beats, flags, rng)
    seconds = rng.uniform(0.1, 3.0) + np.concatenate([[0.0], np.cumsum(_lengths(beats, tempo, ends, flags, rng))])
    places = np.concatenate([beats, [2 * beats[-1] - beats[-2]]])
    seconds -= min(0.0, _clock(np.array([min(start for start, *_ in notes)]), places, seconds)[0] - 0.1)
    parts, programmes = _players(tune, family, rng)
    shift, swing = int(rng.integers(-4, 5)), _swing(tune, family, rng, flags)
    if max(note[3] for note in notes) == 0 and rng.random() < 0.5:
        notes = notes + _accompany(tune, notes, downs, beats, flags, programmes, rng)
    spread = rng.uniform(0.003, 0.012)
    sounds = []
    for start, length, pitch, part in notes:
        on, off = _clock(_swung(np.array([start, start + length * 0.93]), tune, swing), places, seconds)
        on += np.clip(rng.normal(0, spread), -0.025, 0.025)
        channel = DRUM_CHANNEL if part == -1 else parts.get(part, part)
        moved = pitch if part == -1 else int(np.clip(pitch + shift, 24, 103))
        level = int(np.clip(rng.normal(84, 8) + 8 * bool(np.abs(downs - start).min() < 1e-6), 30, 120))
        sounds.append(Sound(float(on), float(off), channel, moved, level))
    inside = [start for start, *_ in notes]
    keep = (beats >= min(inside) - 0.02) & (beats <= max(inside) + 0.02)
    keep_downs = (downs >= min(inside) - 0.02) & (downs <= max(inside) + 0.02)
    truth = Truth(_clock(beats[keep], places, seconds), _clock(downs[keep_downs], places, seconds))
    return Played(sounds, programmes, truth, flags)


def _clock(places: np.ndarray, beats: np.ndarray, seconds: np.ndarray) -> np.ndarray:
    """Seconds of places in quarter notes; before the first beat and after the last at their pace."""
    first, last = (
        (seconds[1] - seconds[0]) / (beats[1] - beats[0]),
        (seconds[-1] - seconds[-2]) / (beats[-1] - beats[-2]),
    )
    inside = np.interp(places, beats, seconds)
    return inside + np.minimum(places - beats[0], 0) * first + np.maximum(places - beats[-1], 0) * last


def _rounds(tune: Tune, tempo: float) -> tuple[list, np.ndarray, np.ndarray]:
    """The tune as often as fills some 50 s, at most six times; a long one is cut at a bar after some 100 s."""
    beats, downs = beats_of(tune)
    quarter = 60 / tempo / tune.bars[0][2]
    end, bar = tune.bars[-1][0] + tune.bars[-1][1], tune.bars[-1][1]
    round_length = end - tune.first_down
    if tune.first_down and tune.length > round_length + 1e-6:  # no room for the next upbeat: a bar of rest takes it
        round_length += bar
        downs = np.append(downs, end)
    times = int(np.clip(np.ceil(52 / (round_length * quarter)), 1, 6))
    limit = 105 / quarter
    cut = next((start for start, *_ in tune.bars if start > limit), None)
    if cut is not None:
        notes = [note for note in tune.notes if note[0] < cut]
        return notes, beats[beats <= cut], downs[downs <= cut]
    notes = [(start + at * round_length, *rest) for at in range(times) for start, *rest in tune.notes]
    places = np.concatenate([beats + at * round_length for at in range(times)])
    bars = np.concatenate([downs + at * round_length for at in range(times)])
    bars = bars[bars <= max(start for start, *_ in notes) + 1e-6]
    return notes, _filled(places, tune.bars[0][2]), np.unique(np.round(bars, 6))


def _filled(places: np.ndarray, beat: float) -> np.ndarray:
    """Beats with those put in that fall in a rest between rounds."""
    places = np.unique(np.round(places, 6))
    more = [np.arange(one + beat, after - beat / 2, beat) for one, after in pairwise(places)]
    return np.unique(np.round(np.concatenate([places, *more]), 6))


def _fermatas(tune: Tune, beats: np.ndarray, flags: list[str], rng: np.random.Generator) -> list[int]:
    if not tune.fermatas or rng.random() < 0.5:
        return []
    flags.append("fermata")
    return [int(np.searchsorted(beats, place + 1e-6) - 1) for place in tune.fermatas]


def _lengths(
    beats: np.ndarray, tempo: float, ends: list[int], flags: list[str], rng: np.random.Generator
) -> np.ndarray:
    """Seconds of each beat: drift, fermatas, slower at the end."""
    count = len(beats)
    pace = np.ones(count)
    if rng.random() < 0.85:
        flags.append("drift")
        pace *= drift(count, float(np.exp(rng.uniform(np.log(0.005), np.log(0.05)))), rng)
    if rng.random() < 0.6:
        flags.append("ritardando")
        length = min(int(rng.integers(3, 9)), count)
        pace[-length:] *= np.linspace(1, rng.uniform(0.55, 0.85), length)
    # A beat is as long as the score says it is; the usual one lasts 60 / tempo.
    spans = np.diff(np.concatenate([beats, [2 * beats[-1] - beats[-2]]]))
    lengths = 60 / tempo / pace * spans / np.median(spans)
    lengths[ends] *= rng.uniform(1.3, 2.2)
    return lengths * np.exp(rng.normal(0, 0.004, count))


def _players(tune: Tune, family: Family, rng: np.random.Generator) -> tuple[dict[int, int], dict[int, int]]:
    """Channels of the score's parts, and their instruments: all the same, or each its own."""
    numbers = sorted({note[3] for note in tune.notes})[:8]
    names = PLAYERS[family.players]
    mixed = len(numbers) > 1 and rng.random() < 0.3
    usual = int(rng.choice(INSTRUMENTS[str(rng.choice(names))]))
    chosen = {at: int(rng.choice(INSTRUMENTS[str(rng.choice(names))])) if mixed else usual for at in numbers}
    return {number: min(number, 8) for number in range(32)}, chosen


def _swing(tune: Tune, family: Family, rng: np.random.Generator, flags: list[str]) -> float:
    """Hornpipes and clogs are often played uneven: the share of the first of two eighths (or sixteenths)."""
    if family.name not in ("hornpipe", "clog", "strathspey") or tune.bars[0][2] not in (1, 2) or rng.random() < 0.4:
        return 0.5
    flags.append("swung")
    return float(rng.uniform(0.54, 0.67))


def _swung(places: np.ndarray, tune: Tune, swing: float) -> np.ndarray:
    pair = tune.bars[0][2] / 2
    whole, rest = np.divmod((places - tune.first_down) / pair, 1.0)
    bent = np.where(rest <= 0.5, rest * 2 * swing, swing + (rest - 0.5) * 2 * (1 - swing))
    return (whole + bent) * pair + tune.first_down


def _accompany(tune, notes, downs, beats, flags, programmes, rng) -> list[tuple[float, float, int, int]]:
    """Bass and chords, a drone, or taps of a foot or drum, under a tune of one part."""
    kind = str(rng.choice(["oom-pah", "drone", "chords", "taps", "taps+chords"]))
    flags.append(kind)
    tonic = (7 * tune.sharps) % 12
    end = max(start for start, *_ in notes)
    bars = [
        (start, [at for at in beats if start <= at + 1e-6 and at < after - 1e-6]) for start, after in _spans(downs, end)
    ]
    bass, chords = (
        str(rng.choice(["abass", "cello", "tuba", "piano"])),
        str(rng.choice(["steel", "piano", "accordion", "nylon"])),
    )
    programmes |= {10: int(rng.choice(INSTRUMENTS[bass])), 11: int(rng.choice(INSTRUMENTS[chords]))}
    low, high = TAPS[str(rng.choice(list(TAPS)))]
    beat, more = tune.bars[0][2], []
    for start, inside in bars:
        chord = _harmony(notes, start, start + beat * len(inside), tonic)
        tones = chord.tones(60)
        if kind == "drone":
            more += [(start, beat * len(inside), 36 + tonic, 10), (start, beat * len(inside), 43 + tonic, 10)]
        if kind == "oom-pah":
            for at, place in enumerate(inside):
                if at % 2 == 0 or len(inside) == 3:
                    more += (
                        [(place, beat / 2, chord.degree("1" if at == 0 else "5", 33), 10)]
                        if at == 0 or len(inside) != 3
                        else []
                    )
                second = place if len(inside) == 3 and at else place + beat * (2 / 3 if beat in (1.5, 3) else 0.5)
                more += [(second, beat / 3, tone, 11) for tone in tones] if len(inside) != 3 or at else []
        if "chords" in kind:
            every = inside if len(inside) < 4 else inside[::2]
            more += [(place, beat * 0.9, tone, 11) for place in every for tone in tones]
            more += [(start, beat, chord.degree("1", 33), 10)]
        if "taps" in kind:
            more += [(place, 0.1, low, -1) for place in inside]
            more += [(place + beat * (2 / 3 if beat in (1.5, 3) else 0.5), 0.1, high, -1) for place in inside if high]
    return more


def _spans(downs: np.ndarray, end: float) -> list[tuple[float, float]]:
    edges = [*downs[downs <= end + 1e-6], end + 1e-3]
    return list(pairwise(edges))


def _harmony(notes: list, start: float, end: float, tonic: int) -> Chord:
    """The triad of the key that holds most of a bar's notes by length; the first on a tie."""
    weight = np.zeros(12)
    for at, length, pitch, part in notes:
        if start <= at + 1e-6 and at < end - 1e-6 and part == 0:
            weight[pitch % 12] += length
    fits = [sum(weight[(tonic + root + tone) % 12] for tone in shape) for root, shape in TRIADS]
    root, shape = TRIADS[int(np.argmax(fits))]
    return Chord((tonic + root) % 12, shape)
