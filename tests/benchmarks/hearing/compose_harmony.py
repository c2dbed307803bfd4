"""Chords: progressions as Roman numerals, and the pitches of a chord in a register."""

import re
from dataclasses import dataclass

import numpy as np

PROGRESSIONS = {
    "pop": ("I V vi IV", "vi IV I V", "I vi IV V", "I IV vi V", "IV V iii vi", "I I IV IV", "I V IV IV", "ii IV I V"),
    "folk": ("I I IV V", "I IV I V", "I V I V", "I IV V I", "I I V V I I V I", "I IV I V I IV V I", "I ii V I"),
    "minor": ("i bVI bIII bVII", "i bVII bVI bVII", "i iv i V7", "i i iv V7", "i bVI iv V7", "i bIII bVII iv"),
    "vamp": ("i7 IV7", "i7 i7 i7 IV7", "I7 I7 bVII7 IV7", "i7 bVII7", "ii7 V7", "i7 iv7 i7 V7"),
    "jazz": ("ii7 V7 IM7 vi7", "IM7 vi7 ii7 V7", "IM7 II7 ii7 V7", "iii7 VI7 ii7 V7 IM7 IV7 ii7 V7",
             "i7 iv7 bVIIM7 V7"),
    "blues": ("I7 I7 I7 I7 IV7 IV7 I7 I7 V7 IV7 I7 V7", "I7 IV7 I7 I7 IV7 IV7 I7 VI7 ii7 V7 I7 V7"),
    "latin": ("i iv V7 V7", "I IV V7 IV", "i bVII bVI V7", "ii7 V7 I I", "I I V7 V7 V7 V7 I I"),
    "baroque": ("I V vi iii IV I IV V", "i iv bVII bIII bVI iv V i", "I IV V I vi ii V I", "i V7 i V7 iv i V7 i"),
    "hymn": ("I IV I V I vi ii V I IV V I", "I V vi iii IV I V I", "I I IV I V vi IV V", "i iv V i bVI bIII V7 i"),
    "drone": ("I", "i", "i i bVII i", "I IVM7", "i bVI"),
}  # fmt: skip

DEGREES = {"I": 0, "II": 2, "III": 4, "IV": 5, "V": 7, "VI": 9, "VII": 11}
MAJOR, MINOR = (0, 2, 4, 5, 7, 9, 11), (0, 2, 3, 5, 7, 8, 10)


@dataclass(frozen=True)
class Chord:
    """Pitch class of the root (0-11) and the intervals above it in semitones."""

    root: int
    shape: tuple[int, ...]

    def tones(self, centre: int, size: int | None = None) -> list[int]:
        """The chord in close position about a MIDI pitch, low to high."""
        low = centre - 6
        pitches = sorted(low + (self.root + step - low) % 12 for step in self.shape)
        while size and len(pitches) < size:
            pitches.append(pitches[-len(self.shape)] + 12)
        return pitches[:size]

    def ladder(self, lowest: int, count: int) -> list[int]:
        """Chord notes upwards, from the lowest root at or above a pitch."""
        base = lowest + (self.root - lowest) % 12
        return [base + 12 * (at // len(self.shape)) + self.shape[at % len(self.shape)] for at in range(count)]

    def degree(self, sign: str, lowest: int) -> int:
        """A bass note: 1 root, 3, 5, 7, 8 octave, 6 and 2 as steps, 4 the fifth below."""
        base = lowest + (self.root - lowest) % 12
        third = self.shape[1]
        seventh = self.shape[3] if len(self.shape) > 3 else 10
        return base + {"1": 0, "2": 2, "3": third, "4": -5, "5": 7, "6": 9, "7": seventh, "8": 12}[sign]


def read_chord(numeral: str, tonic: int) -> Chord:
    """A chord of a key: ``bVII``, ``ii7``, ``IM7``; capitals are major, small letters minor."""
    flat, name, extra = re.fullmatch(r"(b?)([IV]+|[iv]+)(M7|7)?", numeral).groups()
    third = 4 if name.isupper() else 3
    seventh = {None: (), "7": (10,), "M7": (11,)}[extra]
    return Chord((tonic + DEGREES[name.upper()] - bool(flat)) % 12, (0, third, 7, *seventh))


def progression(rng: np.random.Generator, kind: str, tonic: int) -> list[Chord]:
    """One of the progressions of a kind, in a key."""
    return [read_chord(numeral, tonic) for numeral in rng.choice(PROGRESSIONS[kind]).split()]


def scale_of(chords: list[Chord], tonic: int) -> list[int]:
    """Pitch classes of the scale a tune on these chords may use: minor where a chord on the tonic has a minor third."""
    minor = any(chord.root == tonic and chord.shape[1] == 3 for chord in chords)
    return [(tonic + step) % 12 for step in (MINOR if minor else MAJOR)]
