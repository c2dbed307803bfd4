"""Reads the tables of grooves, and names the instruments they use."""

import re
from dataclasses import dataclass, field

from compose_grooves import POPULAR
from compose_grooves_odd import ODD
from compose_grooves_world import CLICKS, WORLD

# General MIDI 1 numbers, counted from 0 (MIDI Manufacturers Association, "General MIDI System Level 1 Sound Set").
INSTRUMENTS = {
    "piano": (0, 1, 2, 3), "epiano": (4, 5), "harpsi": (6,), "clav": (7,), "celesta": (8,), "glock": (9,),
    "musicbox": (10,), "vibes": (11,), "marimba": (12,), "bells": (9, 14, 98), "organ": (16, 17, 18),
    "church": (19, 20), "accordion": (21, 23), "harmonica": (22,), "nylon": (24,), "steel": (25,), "jazzg": (26,),
    "clean": (27, 28), "drive": (29, 30), "abass": (32,), "ebass": (33, 34), "pick": (34,), "fretless": (35,),
    "slap": (36, 37), "synbass": (38, 39), "violin": (40,), "viola": (41,), "cello": (42,), "contra": (43,),
    "pizz": (45,), "harp": (46,), "strings": (48, 49), "synstr": (50, 51, 62, 63), "choir": (52,), "ooh": (53,),
    "voice": (53, 54, 85), "trumpet": (56,), "trombone": (57,), "tuba": (58,), "mutetp": (59,), "horn": (60,),
    "brass": (61,), "sax": (64, 65, 66, 67), "oboe": (68,), "clarinet": (71,), "piccolo": (72,), "flute": (73,),
    "recorder": (74,), "whistle": (72, 78), "ocarina": (79,), "synlead": (80, 81, 84, 87),
    "pad": (88, 89, 90, 91, 94, 95), "banjo": (105,), "kalimba": (108,), "bagpipe": (109,), "fiddle": (40, 110),
    "pluck": (45, 46, 24), "guitar": (24, 25, 26, 27),
}  # fmt: skip

# General MIDI 1 percussion keys of channel 10; several where the same part may be played on either.
DRUMS = {
    "kick": (35, 36), "rim": (37,), "snare": (38, 40), "clap": (39,), "tom1": (41, 43, 45), "tom2": (47, 48, 50),
    "hat": (42,), "pedal": (44,), "open": (46,), "crash": (49, 57), "ride": (51, 59), "bell": (53, 56, 67),
    "tamb": (54,), "cowbell": (56,), "conga": (62, 63, 64), "guiro": (73,), "clave": (75,), "block": (76, 77),
    "shaker": (69, 70, 82), "surdo": (41, 64), "bodhran": (41, 64, 61), "sleigh": (54, 83),
}  # fmt: skip

PITCHED = ("bass", "comp", "arp", "pad", "lead")


@dataclass
class Part:
    """A line of a genre: who plays (a name of ``DRUMS`` or of ``PITCHED``), on what, and its patterns."""

    name: str
    instruments: tuple[str, ...]
    patterns: tuple[str, ...]


@dataclass
class Genre:
    """A groove: beats a bar, lowest and highest tempo, steps a beat, parts, and free words (chords, form, human...)."""

    name: str
    metre: int
    tempo: tuple[float, float]
    steps: int
    words: dict[str, str]
    parts: list[Part] = field(default_factory=list)

    def word(self, name: str, default: str = "") -> str:
        return self.words.get(name, default)

    def part(self, name: str) -> Part | None:
        return next((part for part in self.parts if part.name == name), None)


def read_genres(text: str) -> dict[str, Genre]:
    """Genres of a table by name. A part nobody knows or a pattern that does not fit the bar raises ValueError."""
    genres: dict[str, Genre] = {}
    for line in filter(None, map(str.strip, text.splitlines())):
        if line.startswith("@"):
            genre = _opening(line)
            genres[genre.name] = genre
        else:
            genre.parts.append(_part(line, genre))
    return genres


def _opening(line: str) -> Genre:
    name, metre, tempo, steps, *words = line[1:].split()
    low, high = tempo.split("-")
    return Genre(name, int(metre), (float(low), float(high)), int(steps), dict(word.split("=") for word in words))


def _part(line: str, genre: Genre) -> Part:
    head, rest = line.split(None, 1)
    name, instruments = re.fullmatch(r"(\w+)(?:\(([\w,]+)\))?", head).groups()
    patterns = tuple(pattern.replace(" ", "") for pattern in rest.split("|"))
    bar = genre.metre * genre.steps
    bad = [pattern for pattern in patterns if name != "lead" and len(pattern) % bar and bar % len(pattern)]
    players = tuple(instruments.split(",")) if instruments else ()
    if bad or (name not in DRUMS and name not in PITCHED) or set(players) - set(INSTRUMENTS):
        raise ValueError(f"{genre.name}: {line!r}: steps a bar {bar}, does not fit: {bad}")
    return Part(name, players, patterns)


GENRES = read_genres(POPULAR) | read_genres(WORLD)
CLICK_GENRES = read_genres(CLICKS)
ODD_GENRES = {name: genre for name, genre in GENRES.items() if genre.metre in (5, 7)} | read_genres(ODD)
