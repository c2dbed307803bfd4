"""Three songs of our own, played when they are needed, with their exact beats and sections beside them.

Tunes and chords were made up for eavesong and belong to it; the titles are invented.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from eavesong.demo.score import Passage, Score, synthesise
from eavesong.demo.synth import RATE
from eavesong.errors import OutputError, Problem
from eavesong.files import whole_file
from eavesong.music.grid import BeatGrid
from eavesong.music.sound import sound_hash
from eavesong.music.texts import write_beats, write_sections

if TYPE_CHECKING:
    from eavesong.demo.synth import Wave

LANTERN_WALK = Score(
    title="Lantern Walk",
    key=62,
    scale="major",
    beats_per_bar=4,
    tempo=116.0,
    drums={
        "kick": "x... x... x... x..o",
        "snare": ".... x... .... x...",
        "hats": "o.x. o.x. o.x. o.xo",
        "sleigh": "x.o. x.o. x.o. x.o.",
    },
    arpeggio="0 2 3 2 4 2 3 1",
    bass="0 - . 0 2 . 1 .",
    passages=(
        Passage("intro", 4, "1 5 6 4", "pluck sleigh riser", "-:8 5:1 3:1 2:1 3:1 5:2 -:2", "bells", 0.45),
        Passage(
            "verse", 8, "1 5 6 4", "kick hats bass pluck",
            "3:1 3:.5 5:.5 6:1 5:1 2:1.5 1:.5 2:2 1:1 1:.5 3:.5 8:1 6:1 6:1.5 5:.5 4:2", "lead", 0.65,
            beats={"kick": "x... .... x.x. ....", "hats": "o... o... o... o.o."},
        ),
        Passage(
            "chorus", 8, "4 1 5 6 4 1 2 5", "kick snare hats bass pad pluck crash sleigh",
            "8:1.5 6:.5 6:1 5:1 3:1 5:2 -:1 7:1.5 6:.5 5:1 2:1 3:3 5:1 "
            "8:1.5 6:.5 6:1 8:1 10:1 9:1 8:2 6:1 5:1 4:1 6:1 5:3 -:1", "bells", 1.0,
        ),
        Passage(
            "bridge", 4, "6 3 4 5", "pad pluck riser",
            "6:2 8:2 7:3 5:1 6:2 4:2 5:4", "lead", 0.5,
        ),
        Passage(
            "chorus", 4, "4 1 2 5", "kick snare hats bass pad pluck crash sleigh",
            "8:1.5 6:.5 6:1 8:1 10:1 9:1 8:2 6:1 5:1 4:1 6:1 5:3 -:1", "bells", 1.0,
        ),
        Passage("outro", 2, "4 5", "pad pluck sleigh", "6:1 5:1 3:2 2:3 -:1", "bells", 0.5),
    ),
)  # fmt: skip

FROST_WALTZ = Score(
    title="Frost Waltz",
    key=57,
    scale="minor",
    beats_per_bar=3,
    tempo=150.0,
    drums={
        "kick": "x... .... ....",
        "snare": ".... o... o...",
        "hats": "x... o... o.o.",
        "sleigh": "x... o... o...",
    },
    arpeggio="0 . 2 3 2 1",
    bass="0 - - . 1 .",
    pickup="5:1",
    passages=(
        Passage("intro", 8, "1 6 3 7", "pluck", "8:2 7:1 6:3 5:2 3:1 2:3", "bells", 0.4),
        Passage(
            "verse", 12, "1 4 7 3 6 4 5 5 1 4 5 1", "kick sleigh bass pluck",
            "8:1 7:1 8:1 6:2 4:1 9:1 8:1 9:1 7:3 8:1 6:1 8:1 6:2 4:1 5:1 6:1 7:1 5:3 "
            "8:1 7:1 8:1 6:2 4:1 7:1 5:1 2:1 1:3", "bells", 0.7,
        ),
        Passage(
            "chorus", 12, "3 7 1 5 6 3 4 5 6 7 1 1", "kick snare hats bass pad pluck crash",
            "10:2 9:1 7:2 9:1 8:2 7:1 5:3 8:1 6:1 8:1 7:2 5:1 6:1 5:1 4:1 5:3 "
            "6:1 8:1 10:1 9:1 7:1 9:1 8:3 -:3", "lead", 1.0,
        ),
        Passage("bridge", 6, "6 3 4 1 4 5", "pad riser", "6:3 5:3 4:2 6:1 8:3 6:3 5:3", "bells", 0.35),
        Passage(
            "chorus", 8, "3 7 1 5 6 7 1 1", "kick snare hats bass pad pluck crash sleigh",
            "10:2 9:1 7:2 9:1 8:2 7:1 5:3 6:1 8:1 10:1 9:1 7:1 9:1 8:3 -:3", "lead", 1.0,
        ),
        Passage("outro", 2, "4 5", "pluck pad", "6:1 5:1 4:1 5:3", "bells", 0.4),
    ),
)  # fmt: skip

SLOW_THAW = Score(
    title="Slow Thaw",
    key=64,
    scale="dorian",
    beats_per_bar=4,
    tempo=104.0,
    drums={
        "kick": "x... ..x. x... ....",
        "snare": ".... x... .... x..o",
        "hats": "x.o. x.o. x.o. x.o.",
        "sleigh": "o... o... o... o...",
    },
    arpeggio="0 1 2 3 5 3 2 1",
    bass="0 - 0 . 0 - 1 2",
    passages=(
        Passage("intro", 4, "1 7 4 1", "pad", "-:4 5:3 4:1 3:4 1:4", "bells", 0.35, (72.0, 72.0)),
        Passage(
            "verse", 4, "1 3 4 7", "pad pluck sleigh bass",
            "5:1 4:1 3:2 5:1 7:1 8:2 6:1 4:1 8:2 7:3 -:1", "bells", 0.5, (72.0, 72.0),
        ),
        Passage(
            "bridge", 4, "4 7 1 5", "kick hats bass pad pluck riser",
            "4:1 6:1 8:1 6:1 7:1 9:1 11:2 8:1 7:1 5:1 3:1 2:1 4:1 5:1 9:1", "bells", 0.7, (72.0, 104.0),
            beats={"kick": "x... x... x... x...", "hats": "o... o... o... o..."},
        ),
        Passage(
            "chorus", 8, "1 7 4 3", "kick snare hats bass pluck pad crash",
            "8:1 8:.5 7:.5 5:1 3:1 4:1 7:2 4:1 6:1 6:.5 8:.5 11:1 9:1 10:1.5 9:.5 7:2", "lead", 0.9,
        ),
        Passage(
            "chorus", 4, "4 7 1 1", "kick snare hats bass pluck pad crash sleigh",
            "11:2 10:1 8:1 9:2 7:2 8:1 7:1 5:1 7:1 8:3 -:1", "bells", 1.0,
            beats={"kick": "x... x... x... x..."},
        ),
        Passage("outro", 2, "4 7", "pad pluck", "6:2 4:2 7:3 -:1", "bells", 0.45),
    ),
)  # fmt: skip

SCORES = (LANTERN_WALK, FROST_WALTZ, SLOW_THAW)


@dataclass(frozen=True)
class DemoSong:
    """A song in a folder, and what is true of it."""

    path: Path
    beats_path: Path
    sections_path: Path
    title: str
    grid: BeatGrid


def make_songs(folder: str | Path, scores: tuple[Score, ...] = SCORES) -> tuple[DemoSong, ...]:
    """Play ``scores`` into ``folder``: for each a WAV (16 bits, 44,100 Hz, stereo), a beats and a sections text.

    The folder is made if need be; every file is whole or absent. Raises OutputError when it cannot be written.
    """
    Path(folder).mkdir(parents=True, exist_ok=True)
    return tuple(_make(Path(folder), score) for score in scores)


def names_of_songs(scores: tuple[Score, ...] = SCORES) -> tuple[str, ...]:
    """What the files of ``scores`` are called, without their endings."""
    return tuple(_stem(score) for score in scores)


def _stem(score: Score) -> str:
    return score.title.lower().replace(" ", "-")


def _make(folder: Path, score: Score) -> DemoSong:
    song = synthesise(score)
    stem = folder / _stem(score)
    made = DemoSong(
        stem.with_suffix(".wav"), stem.with_suffix(".beats"), stem.with_suffix(".sections"), score.title, song.grid
    )
    write_wav(made.path, song.sound)
    digest = sound_hash(made.path)
    write_beats(made.beats_path, song.grid, digest)
    write_sections(made.sections_path, song.grid, digest)
    return made


def write_wav(path: str | Path, sound: Wave) -> None:
    """Write ``sound`` (n, 2), within ±1, as a WAV of 16 bits at 44,100 Hz."""
    import soundfile

    samples = np.round(sound * 32767).astype(np.int16)
    with whole_file(path) as draft:
        try:
            soundfile.write(draft, samples, RATE, "PCM_16", format="WAV")
        except soundfile.LibsndfileError as fault:
            raise OutputError(Problem(str(path), "", f"cannot be written: {fault}")) from None


PROGRESSIONS = {
    "major": ("1 5 6 4", "6 4 1 5", "1 4 6 5", "4 1 5 6", "1 3 4 5", "1 6 2 5", "6 5 4 5"),
    "minor": ("1 6 3 7", "1 4 7 3", "6 7 1 1", "1 7 6 7", "4 1 5 1", "6 3 7 1"),
    "dorian": ("1 7 4 1", "1 4 1 7", "4 7 1 5", "1 3 4 7", "3 7 4 1"),
}
FORM = ("intro", "verse", "chorus", "verse", "chorus", "bridge", "chorus", "outro")
PLAYERS = {
    "intro": "pluck sleigh riser",
    "verse": "kick hats bass pluck",
    "chorus": "kick snare hats bass pad pluck crash",
    "bridge": "pad pluck riser",
    "outro": "pad pluck",
}
LEVELS = {"intro": 0.45, "verse": 0.7, "chorus": 1.0, "bridge": 0.5, "outro": 0.5}


def invent(seed: int, seconds: float = 180.0, tempo: float | None = None, beats_per_bar: int = 4) -> Score:
    """A score nobody wrote, about ``seconds`` long: key, tempo (84 to 140 unless given), chords, tunes by chance.

    The same ``seed`` gives the same score. Bars have ``beats_per_bar`` beats, 3 or 4.
    """
    chance = np.random.default_rng(seed)
    base = FROST_WALTZ if beats_per_bar == 3 else LANTERN_WALK
    tempo = tempo or float(chance.integers(84, 141))
    bars = max(len(FORM), round(seconds * tempo / 60 / beats_per_bar))
    shares = np.array([0.5 if label in ("intro", "bridge", "outro") else 1.0 for label in FORM])
    lengths = np.maximum(1, np.round(bars * shares / shares.sum() / 2) * 2).astype(int)
    scale = str(chance.choice(sorted(PROGRESSIONS)))
    material = {label: (str(chance.choice(PROGRESSIONS[scale])), _stroll(chance, beats_per_bar)) for label in PLAYERS}
    passages = tuple(
        Passage(
            label, int(length), material[label][0], PLAYERS[label], material[label][1],
            "lead" if label == "verse" else "bells", LEVELS[label],
        )
        for label, length in zip(FORM, lengths, strict=True)
    )  # fmt: skip
    return Score(
        title=f"Invention {seed}",
        key=int(chance.integers(55, 67)),
        scale=scale,
        beats_per_bar=beats_per_bar,
        tempo=tempo,
        drums=base.drums,
        arpeggio=base.arpeggio,
        bass=base.bass,
        passages=passages,
    )


def _stroll(chance: np.random.Generator, beats_per_bar: int) -> str:
    """A tune of four bars that goes up and down the scale by small steps."""
    words, degree, left = [], 5, 4.0 * beats_per_bar
    while left > 0:
        length = min(left, float(chance.choice([0.5, 1.0, 1.0, 1.5, 2.0])))
        degree = int(np.clip(degree + chance.integers(-2, 3), 1, 11))
        words.append(f"{'-' if chance.random() < 0.12 else degree}:{length:g}")
        left -= length
    return " ".join(words)
