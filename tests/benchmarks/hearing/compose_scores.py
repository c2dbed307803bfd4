"""Reads public scores with bars (the corpus of music21) as notes, beats and downbeats in quarter notes.

music21's corpus holds scores its makers may hand on; some are free for study only, so nothing made from it is kept, and
what ships is trained on the families marked free alone: tunes and chorales long out of copyright, in files that name
no restriction.
"""

import re
import warnings
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import numpy as np


@dataclass
class Family:
    """A kind of piece: where it lies, words of the file's name, tempo of its beat, share, kind of players; whether
    it may be used for more than study."""

    name: str
    folder: str
    match: str
    tempo: tuple[float, float]
    share: float
    players: str
    free: bool = False


# Tempi of dances as they are commonly played, of choral music as commonly sung: from memory.
FAMILIES = [
    Family("reel", "ryansMammoth", "Reel", (92, 118), 6, "fiddle", True),
    Family("jig", "ryansMammoth", "Jig", (98, 130), 6, "fiddle", True),
    Family("hornpipe", "ryansMammoth", "Hornpipe", (76, 96), 4, "fiddle", True),
    Family("strathspey", "ryansMammoth", "Strathspey", (56, 76), 2, "fiddle", True),
    Family("clog", "ryansMammoth", "Clog|Fling|Essence", (70, 92), 3, "fiddle", True),
    Family("fiddle-air", "ryansMammoth", "^(?!.*(Reel|Jig|Hornpipe|Stra|Clog|Fling))", (84, 116), 3, "fiddle", True),
    Family("scots-air", "airdsAirs", "book", (80, 120), 5, "fiddle", True),
    Family("irish-air", "oneills1850", "", (72, 112), 6, "fiddle", True),
    Family("folksong", "essenFolksong", "", (76, 132), 8, "song"),
    Family("chorale", "bach", r"^bwv.*mxl", (58, 92), 8, "choir", True),
    Family("motet", "palestrina", "", (56, 88), 3, "choir"),
    Family("madrigal", "monteverdi", "mxl", (72, 112), 2, "choir"),
    Family("ars-nova", "trecento", "xml", (66, 110), 2, "consort"),
    Family("quartet", "haydn|mozart", "mxl", (72, 132), 3, "strings"),
    Family("ragtime", "joplin", "mxl", (76, 100), 1, "piano"),
    Family("mazurka", "chopin", "krn", (110, 150), 1, "piano"),
    Family("song", "leadSheet|liliuokalani|johnson_j_r|verdi|handel", "", (66, 112), 2, "song"),
]  # fmt: skip


@dataclass
class Tune:
    """Notes as (start, length, pitch, part) and bars as (start, length, beat), all in quarter notes."""

    notes: list[tuple[float, float, int, int]]
    bars: list[tuple[float, float, float]]
    first_down: float
    length: float
    metre: str
    sharps: int
    fermatas: list[float]


def candidates(family: Family) -> list[tuple[Path, int | None]]:
    """Files of a family, and for files of many tunes the number of each."""
    from music21 import corpus

    found: list[tuple[Path, int | None]] = []
    for folder in family.folder.split("|"):
        for path in sorted((Path(corpus.__path__[0]) / folder).rglob("*")):
            if path.suffix not in (".abc", ".mxl", ".xml", ".krn") or not re.search(family.match, path.name):
                continue
            numbers = _numbers(path) if path.suffix == ".abc" else []
            found += [(path, number) for number in numbers] if len(numbers) > 1 else [(path, None)]
    return found


def _numbers(path: Path) -> list[int]:
    text = path.read_text(encoding="latin-1")
    return [int(number) for number in re.findall(r"^X:\s*(\d+)", text, re.M)]


def read_tune(path: Path, number: int | None) -> Tune:
    """A score whose bars add up; ValueError where they do not, or where there are too few."""
    from music21 import converter

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        score = converter.parse(path, number=number) if number else converter.parse(path)
        parts = list(getattr(score, "parts", [])) or [score]
        bars, length, metre = _bars(parts[0])
        key = next(iter(parts[0].recurse().getElementsByClass("KeySignature")), None)
        notes = [note for at, part in enumerate(parts) for note in _notes(part, at) if note[0] < length]
        fermatas = [float(note.getOffsetInHierarchy(parts[0])) for note in parts[0].recurse().notes if _holds(note)]
    if len(bars) < 8 or len(notes) < 24:
        raise ValueError("too short")
    if any(whole < 2 * beat for _, whole, beat in bars):
        raise ValueError("bars of one beat, which patch an upbeat")
    return Tune(notes, bars, bars[0][0], length, metre, key.sharps if key else 0, fermatas)


def _holds(note) -> bool:
    return any(type(mark).__name__ == "Fermata" for mark in note.expressions)


def _notes(part, at: int) -> list[tuple[float, float, int, int]]:
    flat = part.stripTies().flatten().notes
    kept = [note for note in flat if note.duration.quarterLength > 0 and type(note).__name__ in ("Note", "Chord")]
    return [
        (float(note.offset), float(note.duration.quarterLength), pitch.midi, at)
        for note in kept
        for pitch in note.pitches
    ]


def _bars(part) -> tuple[list[tuple[float, float, float]], float, str]:
    """Bars of a part. A short one may open the tune, or two halves make a whole (at repeats); nothing else."""
    measures = list(part.getElementsByClass("Measure"))
    bars, at, left, metre, signature = [], 0.0, None, "", None
    for number, measure in enumerate(measures):
        signature = measure.timeSignature or signature
        if signature is None:
            raise ValueError("no time signature")
        metre = metre or signature.ratioString
        whole, start = float(signature.barDuration.quarterLength), float(measure.offset)
        length = float(Fraction(measure.highestTime).limit_denominator(96))
        if abs(start - at) > 1e-6:
            raise ValueError("bars do not follow each other")
        at = start + length
        if left is not None:
            if abs(left + length - whole) > 1e-6:
                raise ValueError("a bar is not full")
            left = None
        elif abs(length - whole) < 1e-6 or number == len(measures) - 1:
            bars.append((start, whole, beat_of(signature)))
        elif 0 < length < whole:
            left = None if number == 0 else length
            if number:
                bars.append((start, whole, beat_of(signature)))
        else:
            raise ValueError("a bar is too full")
    return bars, at, metre


def beat_of(signature) -> float:
    """Quarter notes of a beat: a dotted one where three, six, nine or twelve eighths (or quarters) go in threes."""
    unit = 4.0 / signature.denominator
    if signature.numerator in (6, 9, 12) or (signature.numerator == 3 and signature.denominator == 8):
        return 3 * unit
    return unit


def beats_of(tune: Tune) -> tuple[np.ndarray, np.ndarray]:
    """Places of beats and downbeats in quarter notes, the beats of an upbeat before the first bar too."""
    places = [start + step for start, length, beat in tune.bars for step in np.arange(0, length - 1e-6, beat)]
    beat = tune.bars[0][2]
    before = np.arange(tune.first_down - beat, -1e-6, -beat)[::-1] if tune.first_down > 0 else []
    places = np.array([*before, *places])
    downs = np.array([start for start, _, _ in tune.bars])
    return places[places < tune.length - 1e-6], downs[downs < tune.length - 1e-6]
