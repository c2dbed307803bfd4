"""The plan of a song: its sections and bars, its tempo from beat to beat, and what is odd about it."""

from dataclasses import dataclass, field

import numpy as np
from compose_genres import Genre
from compose_harmony import Chord, progression

# A form is a row of sections: label, length in units, energy (0 quiet to 3 full).
FORMS = {
    "song": ("intro1-1 verse2-2 chorus2-3 verse2-2 chorus2-3 bridge2-1 chorus2-3 outro1-1",
             "intro1-2 verse2-1 verse2-2 chorus2-3 solo2-3 verse2-1 chorus2-3 outro1-3",
             "verse2-1 chorus2-3 break1-0 verse2-2 chorus2-3 drums1-4 chorus2-3 outro1-0"),
    "dance": ("intro2-1 build2-2 chorus4-3 break2-0 build1-2 chorus4-3 outro2-1",
              "intro1-4 chorus4-3 break2-0 drums1-4 chorus4-3 outro1-4",
              "intro2-0 verse4-2 chorus4-3 verse2-1 chorus4-3 outro2-4"),
    "jazz": ("intro1-1 A2-2 A2-2 B2-2 A2-2 solo4-3 B2-2 A2-2 outro1-1", "A2-2 A2-2 B2-1 A2-2 solo2-3 drums1-4 A2-2"),
    "blues": ("A3-1 A3-2 solo3-3 A3-2 outro1-1", "intro1-1 A3-2 solo3-3 solo3-3 A3-2"),
    "folk": ("A2-2 A2-2 B2-2 B2-3 A2-1 A2-2 B2-2 B2-3 A2-2 A2-2 B2-3 B2-3", "A2-2 B2-3 A2-2 C2-1 A2-2 B2-3 A2-2",
             "intro1-1 A2-1 A2-2 B2-3 A2-2 B2-3 C2-1 A2-3 outro1-2"),
    "hymn": ("A2-2 A2-2 B2-3 A2-2 A2-2 B2-3 A2-2", "A4-1 A4-2 A4-3"),
}  # fmt: skip


@dataclass
class Section:
    """Label, energy (0 quiet, 1 light, 2 usual, 3 full, 4 drums alone), chords, beats a chord, and its seed."""

    label: str
    energy: int
    chords: list[Chord]
    harmonic: float
    seed: int
    first_beat: float = 0.0


@dataclass
class Bar:
    """First beat (songs count beats from 0), beats in it, and the section it belongs to."""

    start: int
    beats: int
    section: Section
    number: int = 0
    last: bool = False


@dataclass
class Plan:
    """All bars, the length of each beat in seconds, where the sound begins, and flags for the manifest."""

    genre: Genre
    tempo: float
    tonic: int
    bars: list[Bar]
    pickup: int
    beats: np.ndarray
    lead_in: float
    tail: float
    swing: float
    count_in: int = 0
    flags: list[str] = field(default_factory=list)

    @property
    def edges(self) -> np.ndarray:
        """Seconds at which each beat begins, and the end of the last."""
        return self.lead_in + np.concatenate([[0.0], np.cumsum(self.beats)])

    def seconds(self, beat: np.ndarray | float) -> np.ndarray:
        """Seconds of a place in beats, before human jitter."""
        edges = self.edges
        beat = np.asarray(beat, float)
        past = np.maximum(beat - (len(edges) - 1), 0) * self.beats[-1]
        return np.interp(beat, np.arange(len(edges)), edges) + past


@dataclass
class Note:
    """Beat (songs count from 0), length in beats, MIDI pitch, velocity 1-127, part, and seconds late of the beat."""

    beat: float
    length: float
    pitch: int
    velocity: float
    part: str
    late: float = 0.0


def plan_song(genre: Genre, rng: np.random.Generator) -> Plan:
    """Decide everything about a song but its notes."""
    tempo = float(np.exp(rng.uniform(*np.log(genre.tempo))))
    tonic, flags = int(rng.integers(12)), []
    sections = _sections(genre, tempo, tonic, rng)
    pickup = int(rng.integers(1, genre.metre)) if genre.metre > 1 and rng.random() < _pickups(genre) else 0
    count_in = genre.metre if not pickup and genre.part("kick") and rng.random() < 0.12 else 0
    bars = _bars(genre, sections, pickup + count_in, rng, flags)
    beats = _beat_lengths(genre, tempo, bars, rng, flags)
    flags += ["pickup"] * bool(pickup) + ["count-in"] * bool(count_in)
    lead_in = float(rng.choice([0.05, rng.uniform(0.1, 1.0), rng.uniform(1.0, 5.0)], p=[0.2, 0.5, 0.3]))
    tail = float(rng.uniform(0.5, 5.0))
    low, high = map(float, genre.word("swing", "8:0.5-0.5").split(":")[1].split("-"))
    return Plan(genre, tempo, tonic, bars, pickup, beats, lead_in, tail, rng.uniform(low, high), count_in, flags)


def _pickups(genre: Genre) -> float:
    if genre.word("kind") == "click" or not genre.part("lead"):
        return 0.0
    return 0.45 if genre.word("form") in ("folk", "hymn") else 0.12


def _sections(genre: Genre, tempo: float, tonic: int, rng: np.random.Generator) -> list[tuple[Section, int]]:
    """Sections and their numbers of bars, some 50 to 115 s in all; sections of one label share chords and seed."""
    seconds = rng.uniform(52, 110)
    wanted = seconds * tempo / 60 / genre.metre
    rows = [_row(word) for word in str(rng.choice(FORMS[genre.word("form", "song")])).split()]
    units = sum(length for _, length, _ in rows)
    unit = int(min((1, 2, 4, 8, 16), key=lambda size: abs(np.log(wanted / units / size))))
    unit = 4 if genre.word("form") == "blues" else unit  # its chorus has twelve bars
    known: dict[str, tuple[list[Chord], float, int]] = {}
    sections, bars = [], 0
    for at, (label, length, energy) in enumerate(rows * 3):
        if bars >= wanted * 0.95 or (at >= len(rows) and genre.word("form") not in ("folk", "hymn", "blues", "jazz")):
            break
        chords, harmonic, seed = known.setdefault(label, _material(genre, tonic, rng))
        sections.append((Section(label, energy, chords, harmonic, seed), length * unit))
        bars += length * unit
    return sections


def _row(word: str) -> tuple[str, int, int]:
    head, energy = word.split("-")
    return head[:-1], int(head[-1]), int(energy)


def _material(genre: Genre, tonic: int, rng: np.random.Generator) -> tuple[list[Chord], float, int]:
    kind = genre.word("chords", "pop")
    usual = genre.metre if genre.metre != 2 else int(rng.choice([2, 4]))
    spread = [usual, usual * 2, usual / 2 if usual % 2 == 0 else usual]
    harmonic = float(genre.word("harm") or (usual if kind == "blues" else rng.choice(spread, p=[0.65, 0.2, 0.15])))
    return progression(rng, kind, tonic), harmonic, int(rng.integers(2**31))


def _bars(genre: Genre, sections: list[tuple[Section, int]], before: int, rng: np.random.Generator, flags: list[str]):
    """Lay the bars out; now and then a section in another metre, or a single bar longer or shorter."""
    plain = genre.word("kind") != "click"
    other = str(rng.choice([section.label for section, _ in sections])) if plain and rng.random() < 0.06 else None
    odd = plain and genre.metre in (3, 4) and rng.random() < 0.12
    flags += ["metre-change"] * bool(other) + ["odd-bars"] * odd
    bars, at = [], before
    for section, count in sections:
        section.first_beat = at
        for number in range(count):
            beats = genre.metre if section.label != other else {2: 3, 3: 4, 4: 3, 5: 4, 6: 4, 7: 4}[genre.metre]
            if odd and number == count - 1 and rng.random() < 0.5:
                beats = int(rng.choice([2, genre.metre + 1])) if genre.metre == 3 else int(rng.choice([2, 2, 3, 5, 6]))
            bars.append(Bar(at, beats, section, number, number == count - 1))
            at += beats
    return bars


def _beat_lengths(
    genre: Genre, tempo: float, bars: list[Bar], rng: np.random.Generator, flags: list[str]
) -> np.ndarray:
    """Seconds of each beat: tempo, changes between sections, drift, hurrying, ritardando, fermatas."""
    count = bars[-1].start + bars[-1].beats
    human = int(genre.word("human", "0"))
    pace = np.ones(count)
    if human and rng.random() < 0.8:
        flags.append("drift")
        pace *= drift(count, (0, 0.012, 0.025, 0.05, 0.07)[human] * rng.uniform(0.5, 1.5), rng)
    if human and rng.random() < 0.08:
        flags.append("hurrying")
        pace *= np.linspace(1, rng.uniform(0.85, 1.22), count)
    if rng.random() < (0.1 if human else 0.03):
        flags.append("tempo-change")
        pace *= _changes(count, bars, rng)
    slows = (0.06, 0.15, 0.5, 0.7, 0.8)[human] if genre.word("kind") != "click" else 0
    if rng.random() < slows:
        flags.append("ritardando")
        pace *= _slowing(count, bars, human, rng)
    beats = 60 / tempo / pace
    if genre.word("form") in ("hymn", "folk") and human >= 2 and rng.random() < 0.3:
        flags.append("fermata")
        ends = [bar.start + bar.beats - 1 for bar in bars[:-1] if bar.last and rng.random() < 0.6]
        beats[ends] *= rng.uniform(1.4, 2.5, len(ends))
    return beats * np.exp(rng.normal(0, 0.002 * human, count))


def drift(count: int, spread: float, rng: np.random.Generator) -> np.ndarray:
    """A slow random walk about 1 that returns: spread is its standard deviation, eight beats its memory."""
    walk, keep = np.zeros(count), np.exp(-1 / rng.uniform(6, 24))
    for at in range(1, count):
        walk[at] = keep * walk[at - 1] + np.sqrt(1 - keep**2) * rng.normal()
    return np.exp(spread * np.clip(walk, -2.5, 2.5))


def _changes(count: int, bars: list[Bar], rng: np.random.Generator) -> np.ndarray:
    pace, known = np.ones(count), {}
    for bar in bars:
        factor = known.setdefault(
            bar.section.label, float(rng.choice([1.0, rng.uniform(0.75, 0.92), rng.uniform(1.08, 1.3)]))
        )
        pace[bar.start : bar.start + bar.beats] = factor
    return pace


def _slowing(count: int, bars: list[Bar], human: int, rng: np.random.Generator) -> np.ndarray:
    """Slower over the last beats of the song; players with much freedom slow at the ends of sections too."""
    pace = np.ones(count)
    ends = [bar.start + bar.beats for bar in bars[:-1] if bar.last and human >= 3 and rng.random() < 0.5]
    for end, depth in [(end, rng.uniform(0.75, 0.95)) for end in ends] + [(count, rng.uniform(0.5, 0.85))]:
        length = min(int(rng.integers(3, 10)), end)
        pace[end - length : end] *= np.linspace(1, depth, length)
    return pace


def swung(place: float, plan: Plan) -> float:
    """A place in a bar, in beats, moved by the swing of halves (or of quarters) of the beat."""
    pair = 1.0 if plan.genre.word("swing", "8").startswith("8") else 0.5
    whole, rest = divmod(place / pair, 1.0)
    bent = rest * 2 * plan.swing if rest <= 0.5 else plan.swing + (rest - 0.5) * 2 * (1 - plan.swing)
    return (whole + bent) * pair


def chord_at(bar: Bar, after: Bar, place: float) -> Chord:
    """The chord at a place of a bar (beats from its start)."""
    section = bar.section
    at = int((bar.start + place - section.first_beat + 1e-6) // section.harmonic)
    return section.chords[at % len(section.chords)]
