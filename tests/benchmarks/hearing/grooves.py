"""Songs of the grooves that come with Debian's ``mma``, a program that plays accompaniments: hundreds of styles of
drums, basses and chords, written down by hand, whose bars are known.

    python tests/benchmarks/hearing/grooves.py FILE --songs 1500 --seed 21

Each song has chords, a form, tempi, and mostly a tune of our own; parts come in and drop out. They are kept in one
file, to be played by ``school.py``.
"""

import argparse
import json
import pickle
import re
import subprocess
import sys
import tempfile
from concurrent.futures import ProcessPoolExecutor
from functools import cache
from pathlib import Path

import mido
import numpy as np
from compose_genres import INSTRUMENTS
from compose_harmony import PROGRESSIONS, Chord, progression, scale_of
from compose_lead import DENSITY, walk
from compose_render import DRUM_CHANNEL, TICKS, Sound
from compose_write import Truth
from numpy.typing import NDArray

LIBRARY = Path("/usr/share/mma/lib")
FORMS = ("A A B A", "A A B B A A", "A B A B C B", "A B A C A", "A B C A B C", "A A B B", "I A A B A B E",
         "A B B A C B B", "I A B A B C B E", "A A A B A", "A B", "I A A B B A E", "A A")  # fmt: skip
NAMES = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")
SHAPES = {(0, 4, 7): "", (0, 3, 7): "m", (0, 4, 7, 10): "7", (0, 3, 7, 10): "m7", (0, 4, 7, 11): "M7",
          (0, 3, 7, 11): "m(maj7)"}  # fmt: skip
LEADS = ("voice", "ooh", "flute", "sax", "violin", "synlead", "clarinet", "oboe", "trumpet", "harmonica", "clean",
         "steel", "piano", "vibes", "organ", "recorder", "horn", "cello", "epiano", "nylon", "strings")  # fmt: skip
LASTING = (55.0, 105.0)
"""Seconds of a song, least and most."""


Groove = tuple[str, NDArray[np.int32], dict[int, int], Truth]
"""A song before it is played: name, notes (n, 5) as (begin and length in 0.1 ms, channel, pitch, velocity), programmes
of channels, truth."""


@cache
def library() -> dict[str, tuple[str, ...]]:
    """The names of the grooves of each file, files without a groove left out."""
    found = {}
    for path in sorted(LIBRARY.rglob("*.mma")):
        told = subprocess.run(["mma", "-Djs", str(path)], capture_output=True, text=True).stdout
        try:
            rows = json.loads(told[told.index("[") :])
        except ValueError:
            continue
        names = tuple(row["groove"] for row in rows if row["tracks"])
        if names and "metronome" not in path.stem:
            found[f"{path.parent.name}/{path.stem}"] = names
    return found


def song(source: str, grooves: tuple[str, ...], seed: int) -> Groove | None:
    """A song of one file's grooves; None where they have no bars that are known or it would hardly sound."""
    rng = np.random.default_rng([seed, sum(source.encode())])
    plain = [name for name in grooves if not re.search(r"(?i)intro|end|fill|count|break", name)] or list(grooves)
    fills = [name for name in grooves if re.search(r"(?i)fill|break", name)]
    tonic, kind = int(rng.integers(12)), str(rng.choice(sorted(PROGRESSIONS)))
    parts: dict[str, tuple[list[str], list[Chord], int]] = {}
    rows, bars, chords = ["$TEMPO"], [], []
    for label in str(rng.choice(FORMS)).split():
        if label not in parts:
            size = int(rng.choice([2, 4])) if label in "IE" else int(rng.choice([4, 6, 7, 8, 8, 8, 8, 8, 12, 16]))
            own = kind if rng.random() < 0.7 else str(rng.choice(sorted(PROGRESSIONS)))
            voices = [str(rng.choice(plain)) for _ in range(1 + (rng.random() < 0.2))]
            parts[label] = voices, progression(rng, own, tonic), size
        voices, turn, size = parts[label]
        extra = int(rng.choice([0, 0, 0, 0, 0, 0, 1, 2]))
        for number in range(size + extra):
            chord = turn[number % len(turn)]
            last = number == size + extra - 1
            voice = (
                str(rng.choice(fills))
                if fills and last and rng.random() < 0.6
                else voices[number * len(voices) // (size + 2)]
            )
            rows += [f"Groove {voice}", f"MidiMark B{len(bars)}", f"{len(bars) + 1} {_name(chord)}"]
            bars.append((label, number))
            chords.append(chord)
    with tempfile.TemporaryDirectory() as folder:
        script, midi = Path(folder) / "a.mma", Path(folder) / "a.mid"
        rows[0] = "Tempo 120"
        script.write_text("\n".join([*rows, f"MidiMark B{len(bars)}", ""]))
        subprocess.run(["mma", "-w", "-f", str(midi), str(script)], capture_output=True)
        if not midi.exists():
            return None
        file = mido.MidiFile(midi, clip=True)
    return _played(source.replace("/", "-"), file, bars, chords, tonic, rng)


def sounds_of(notes: NDArray[np.int32]) -> list[Sound]:
    """The notes of a song, to be played."""
    return [Sound(on / TICKS, (on + long) / TICKS, *how) for on, long, *how in notes.tolist()]


def _name(chord: Chord) -> str:
    return NAMES[chord.root] + SHAPES.get(chord.shape, "")


def _played(name: str, file: mido.MidiFile, bars: list[tuple[str, int]], chords: list[Chord], tonic: int,
            rng: np.random.Generator) -> Groove | None:  # fmt: skip
    """By the clock, with a tune, and with parts that drop out."""
    unit, now, edges, signature = file.ticks_per_beat, 0, [], (4, 4)
    for message in file.tracks[0]:
        now += message.time
        if message.type == "marker" and message.text.startswith("B"):
            edges.append(now / unit)
        elif message.type == "time_signature" and not edges:
            signature = message.numerator, message.denominator
    if len(edges) == len(bars):
        edges.append(2 * edges[-1] - edges[-2])
    long = np.diff(edges)
    if len(edges) != len(bars) + 1 or np.ptp(long) > 0.01 or not 2 <= long[0] <= 12:
        return None
    quarters = float(long[0])
    compound = signature[1] >= 8 and signature[0] % 3 == 0 and signature[0] > 3
    metre = signature[0] // 3 if compound else round(quarters)
    if abs(quarters - round(quarters)) > 0.01 or (
        compound and abs(quarters - signature[0]) > 0.01 and quarters % metre
    ):
        return None
    beat = quarters / metre  # quarters
    tempo = float(np.clip(np.exp(rng.normal(np.log(112), 0.3)), 58, 190))
    first = int(rng.integers(0, metre)) if rng.random() < 0.15 else 0  # begins within a bar
    seconds = beat_times(len(bars) * metre + 1, tempo, rng)
    wanted = rng.uniform(*LASTING)
    last = min(len(seconds) - 1, int(np.searchsorted(seconds, wanted)))
    notes, programmes = _notes(file, beat)
    notes = _thinned(notes, len(bars), metre, rng)
    if rng.random() < 0.7:
        channel = next((one for one in range(16) if one not in programmes and one != DRUM_CHANNEL), None)
        if channel is not None:
            programmes[channel] = int(rng.choice(INSTRUMENTS[str(rng.choice(LEADS))]))
            notes += _tune(bars, chords, tonic, metre, channel, rng)
    notes = [one for one in notes if first - 0.1 <= one[0] < last]
    if len(notes) < 60:
        return None
    index, lead, spread = np.arange(len(seconds)), 0.3, float(rng.choice([0.0, 0.003, 0.006]))
    begin = float(np.interp(max(first - 0.1, 0), index, seconds))
    table = np.array(notes)
    on, off = (np.interp(np.maximum(each, 0.0), index, seconds) - begin + lead for each in table[:, :2].T)
    on = np.maximum(on + spread * rng.normal(size=len(on)), 0.0)
    table[:, 0], table[:, 1] = np.rint(TICKS * on), np.rint(TICKS * np.maximum(off - on, 0.02))
    struck = [one[0] for one in notes]
    places = np.arange(max(int(np.ceil(min(struck) - 0.1)), 0), min(int(max(struck)) + 1, last) + 1)
    downs = places[places % metre == 0]
    truth = Truth(seconds[places] - begin + lead, seconds[downs] - begin + lead)
    parts = [number for number, (_, within) in enumerate(bars) if within == 0]  # the same again is no other section
    starts = [number * metre for number in parts if number == 0 or bars[number - 1][0] != bars[number][0]]
    for start, end in zip(starts, [*starts[1:], len(bars) * metre], strict=True):
        if start < last and end > first:
            inside = np.clip([start, min(end, last)], first, last)
            truth.sections.append((*(seconds[inside] - begin + lead), bars[start // metre][0]))
    return name, table.astype(np.int32), programmes, truth


def beat_times(count: int, tempo: float, rng: np.random.Generator) -> np.ndarray:
    """Seconds of beats (n,) at a tempo that is kept, or drifts a little."""
    lengths = np.full(count - 1, 60 / tempo)
    if rng.random() < 0.4:
        drift = np.cumsum(rng.normal(0, 0.004, count - 1))
        lengths *= np.exp(drift - np.linspace(0, drift[-1], count - 1) * 0.7)
    return np.concatenate([[0.0], np.cumsum(lengths)])


def _notes(file: mido.MidiFile, beat: float) -> tuple[list[tuple[float, float, int, int, int]], dict[int, int]]:
    """Notes as (on, off in beats, channel, pitch, velocity), and each channel's first programme."""
    notes, programmes = [], {}
    for track in file.tracks:
        now, begun = 0, {}
        for message in track:
            now += message.time
            at = now / file.ticks_per_beat / beat
            if message.type == "program_change":
                programmes.setdefault(message.channel, message.program)
            elif message.type == "note_on" and message.velocity:
                begun[message.channel, message.note] = at, message.velocity
            elif message.type in ("note_on", "note_off") and (message.channel, message.note) in begun:
                on, velocity = begun.pop((message.channel, message.note))
                notes.append((on, max(at, on + 0.05), message.channel, message.note, velocity))
    return notes, programmes


def _thinned(notes: list, bars: int, metre: int, rng: np.random.Generator) -> list:
    """Without some parts, all through or for some bars."""
    channels = sorted({one[2] for one in notes})
    kept = [channel for channel in channels if rng.random() > (0.25 if channel == DRUM_CHANNEL else 0.1)] or channels
    notes, size = [one for one in notes if one[2] in kept], int(rng.choice([4, 8]))
    holes = {(channel, part) for channel in kept for part in range(bars // size + 1) if rng.random() < 0.08}
    gains = {channel: rng.uniform(0.6, 1.1) for channel in kept}
    left = [one for one in notes if (one[2], int((one[0] + 0.1) // (metre * size))) not in holes]
    return [(*one[:4], int(np.clip(one[4] * gains[one[2]], 15, 127))) for one in left]


def _tune(bars: list[tuple[str, int]], chords: list[Chord], tonic: int, metre: int, channel: int,
          rng: np.random.Generator) -> list:  # fmt: skip
    """A tune over the chords, whose rhythms come again where a part of the form does."""
    odds = DENSITY[str(rng.choice(["sparse", "medium", "medium", "busy", "hymn", "ragged"]))]
    steps, swing = (3, 0.0) if rng.random() < 0.2 else (4, float(rng.choice([0.0, 0.0, 0.16])))
    scale, pitch, begun = scale_of(chords, tonic), int(70 + rng.integers(-6, 8)), []
    silent = {label for label in {label for label, _ in bars} if rng.random() < (0.8 if label in "IE" else 0.15)}
    key = int(rng.integers(2**31))
    for number, (label, within) in enumerate(bars):
        if label in silent:
            continue
        rhythm = np.random.default_rng([key, ord(label), (0, 1, 0, 2, 0, 1, 3, 2)[within % 8]])
        for step in range(metre * steps):
            inside = step % steps
            half = inside == 2 if steps == 4 else inside > 0
            chance = odds[0] if step == 0 else odds[1] if inside == 0 else odds[2] if half else odds[3]
            if rhythm.random() < chance:
                chord = chords[number]
                tones = {(chord.root + tone) % 12 for tone in chord.shape}
                pitch = walk(pitch, scale, tones, inside == 0, rng.random(3))
                late = swing if half and steps == 4 else 0.0
                begun.append((number * metre + step / steps + late, pitch, 78 + 14 * (step == 0) + 12 * rng.random()))
    ends = [*(one[0] for one in begun), len(bars) * metre][1:]
    gain = rng.uniform(0.7, 1.2)
    return [
        (on, on + float(np.clip((end - on) * 0.95, 0.1, 2.0)), channel, note, int(np.clip(level * gain, 20, 127)))
        for (on, note, level), end in zip(begun, ends, strict=True)
    ]


def _one(asked: tuple[str, tuple[str, ...], int]) -> Groove | None:
    return song(*asked)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("out", type=Path)
    parser.add_argument("--songs", type=int, default=1500)
    parser.add_argument("--seed", type=int, default=21)
    parser.add_argument("--jobs", type=int, default=2)
    asked = parser.parse_args()
    files, rng = sorted(library().items()), np.random.default_rng(asked.seed)
    deck = [files[at] for _ in range(asked.songs // len(files) + 1) for at in rng.permutation(len(files))]
    wanted = [(*one, asked.seed + number) for number, one in enumerate(deck[: asked.songs])]
    with ProcessPoolExecutor(asked.jobs) as pool:
        made = [one for one in pool.map(_one, wanted, chunksize=8) if one]
    asked.out.write_bytes(pickle.dumps(made))
    print(f"{len(made)} songs of {len(files)} files")
    return 0


if __name__ == "__main__":
    sys.exit(main())
