"""Arrange performed piano songs for a band, to judge and to train what hears drums and a lead.

    python tests/benchmarks/hearing/arrange.py MIDI_DIR OUT_DIR --songs 100 --seed 1 [--from 0] [--jobs 2]

``MIDI_DIR`` holds ``NAME.mid`` with tracks called MELODY, BRIDGE and PIANO and ``NAME.beats`` (seconds, two columns of
marks, the second of which is 1 at downbeats), as the POP909 data set (Wang et al. 2020) can be written. Each is played
by instruments, drums and soundfonts drawn anew; every drum stroke and every note of the lead is known. Bars begin where
chords and basses do, where both say the marks are late (see ``labels.py``).
"""

import argparse
import sys
from concurrent.futures import ProcessPoolExecutor
from itertools import pairwise
from pathlib import Path
from zlib import crc32

import mido
import numpy as np
from compose_band import LEVELS
from compose_genres import DRUMS, GENRES, INSTRUMENTS
from compose_render import DRUM_CHANNEL, FONTS, Sound, delays
from compose_write import Truth, lead_of, strokes_of, write_manifest, write_song
from labels import late

LEADS = ("voice", "ooh", "flute", "sax", "violin", "synlead", "clarinet", "oboe", "trumpet", "harmonica", "clean",
         "steel", "piano", "vibes", "organ", "recorder", "horn", "cello", "epiano")  # fmt: skip
CHORDS = ("piano", "piano", "epiano", "nylon", "steel", "clean", "organ", "strings", "harp", "vibes", "pad")
KITS = (0, 0, 0, 8, 16, 24, 25, 32, 40)
CHANNELS = {"MELODY": 0, "BRIDGE": 1, "PIANO": 2}
BASS = 3
SECONDS = 100.0


def arrange(folder: Path, out: Path, name: str, seed: int, wild: bool = False) -> dict:
    """Arrange, render and write one song; its line of the manifest. ``wild``: more songs without drums, drums at half
    or double time, a bass off the beat, other tempi, pianos alone; the beats stay what they are."""
    rng = np.random.default_rng([seed, crc32(name.encode())])
    beats, downbeats = _beats(folder / f"{name}.beats")
    begin = float(rng.choice(downbeats[downbeats < max(beats[-1] - SECONDS, beats[4])]))
    sounds = [one for one in _notes(folder / f"{name}.mid", rng) if begin <= one.on < begin + SECONDS]
    kept = (beats >= begin) & (beats < begin + SECONDS)
    genre = ""
    if rng.random() < (0.55 if wild else 0.85):
        genre, struck = _drums(beats, downbeats, rng, float(rng.choice([1, 1, 1, 1, 2, 0.5])) if wild else 1.0)
        sounds += [one for one in struck if begin <= one.on < begin + SECONDS]
    if rng.random() < (0.5 if wild else 0.7):
        sounds += _bass(sounds, beats[kept], rng, 0.5 * (wild and rng.random() < 0.25))
    pace = float(np.exp(rng.uniform(-0.12, 0.12))) if wild else 1.0
    for one in sounds:
        one.on, one.off = (one.on - begin) * pace + 0.3, (one.off - begin) * pace + 0.3
    programmes = {0: _one(rng, LEADS), 1: _one(rng, LEADS + CHORDS), 2: _one(rng, CHORDS), BASS: _one(rng, ("ebass",))}
    if wild and rng.random() < 0.3:
        programmes = dict.fromkeys((0, 1, 2), _one(rng, ("piano",))) | {BASS: programmes[BASS]}
    downs = downbeats[(downbeats >= begin) & (downbeats < begin + SECONDS)]
    truth = Truth((beats[kept] - begin) * pace + 0.3, (downs - begin) * pace + 0.3)
    truth.events, truth.lead = strokes_of(sounds), lead_of(sounds, 0)
    made = write_song(out, name, sounds, programmes, truth, 1.0, rng, rng.random() < 0.3, kit=int(rng.choice(KITS)))
    return {"name": name, "drums": genre, "programmes": programmes} | made


def _beats(path: Path) -> tuple[np.ndarray, np.ndarray]:
    """Seconds of the beats and of the downbeats."""
    rows = np.loadtxt(path)
    bars = np.flatnonzero(rows[:, 2] > 0) + late(path)
    return rows[:, 0], rows[bars[bars < len(rows)], 0]


def _one(rng: np.random.Generator, names: tuple[str, ...]) -> int:
    return int(rng.choice(INSTRUMENTS[str(rng.choice(names))]))


def _notes(path: Path, rng: np.random.Generator) -> list[Sound]:
    """The notes of a MIDI file by the clock; the lead is louder than the rest, or not."""
    file = mido.MidiFile(path)
    tempo = next(message.tempo for message in file.tracks[0] if message.type == "set_tempo")
    gains = {"MELODY": rng.uniform(0.85, 1.25), "BRIDGE": rng.uniform(0.4, 0.8), "PIANO": rng.uniform(0.45, 0.85)}
    octave = {"MELODY": int(rng.choice([0, 0, 0, 12, -12])), "BRIDGE": 0, "PIANO": 0}
    sounds: list[Sound] = []
    for track in file.tracks:
        if track.name not in CHANNELS:
            continue
        now, begun = 0, {}
        for message in track:
            now += message.time
            if message.type not in ("note_on", "note_off"):
                continue
            at = mido.tick2second(now, file.ticks_per_beat, tempo)
            if message.type == "note_on" and message.velocity:
                begun[message.note] = (at, message.velocity)
            elif message.note in begun:
                on, velocity = begun.pop(message.note)
                level = int(np.clip(velocity * gains[track.name], 15, 127))
                pitch = int(np.clip(message.note + octave[track.name], 24, 105))
                sounds.append(Sound(on, at, CHANNELS[track.name], pitch, level))
    return sounds


def _drums(
    beats: np.ndarray, downbeats: np.ndarray, rng: np.random.Generator, slow: float = 1.0
) -> tuple[str, list[Sound]]:
    """A genre's drums on the bars of a song, with pauses, fills and crashes; ``slow`` times as slow as is usual."""
    bars = np.searchsorted(beats, downbeats - 0.01)
    length = int(np.median(np.diff(bars)))
    fitting = [genre for genre in GENRES.values() if genre.part("kick") and length % genre.metre == 0]
    genre = fitting[int(rng.integers(len(fitting)))]
    patterns = {part.name: str(rng.choice(part.patterns)) for part in genre.parts if part.name in DRUMS}
    gain, sounds = rng.uniform(0.7, 1.1), []
    keys = {name: int(rng.choice(DRUMS[name])) for name in (*patterns, "crash")}
    for number, (first, last) in enumerate(pairwise(bars)):
        place = np.random.default_rng([int(rng.integers(2**31)), number // 8])
        silent = {name for name in patterns if place.random() < 0.1}
        fill = number % 8 == 7 and rng.random() < 0.6
        steps = round((last - first) * genre.steps / slow)
        for name, pattern in patterns.items():
            for step in range(steps):
                sign = pattern[step % len(pattern)]
                if sign in LEVELS and name not in silent and not (fill and step >= steps // 2):
                    at = _at(beats, first + slow * step / genre.steps) + rng.normal(0, 0.004)
                    sounds.append(_struck(at, keys[name], LEVELS[sign] * gain * rng.uniform(0.9, 1.1)))
        if fill:
            for step in range(steps // 2, steps):
                if rng.random() < 0.8:
                    key = int(rng.choice([38, 38, 48, 45, 41, 36]))
                    sounds.append(
                        _struck(_at(beats, first + slow * step / genre.steps), key, rng.uniform(70, 115) * gain)
                    )
        if number % 8 == 0 and rng.random() < 0.5:
            sounds.append(_struck(_at(beats, first), keys["crash"], 105 * gain))
    return genre.name, sounds


def _at(beats: np.ndarray, place: float) -> float:
    return float(np.interp(place, np.arange(len(beats)), beats))


def _struck(at: float, key: int, level: float) -> Sound:
    return Sound(max(at, 0.0), max(at, 0.0) + 0.1, DRUM_CHANNEL, key, int(np.clip(level, 20, 127)))


def _bass(sounds: list[Sound], beats: np.ndarray, rng: np.random.Generator, late: float = 0.0) -> list[Sound]:
    """The lowest note of the piano at each beat or each other, an octave or two below where it is high, ``late`` beats
    after them."""
    piano = [one for one in sounds if one.channel == CHANNELS["PIANO"]]
    every, line = int(rng.choice([1, 1, 2])), []
    for begin, end in zip(beats[:-every:every], beats[every::every], strict=False):
        held = [one.pitch for one in piano if one.on < end - 0.05 and one.off > begin + 0.02]
        if held:
            begun = begin + late * (end - begin) / every
            line.append(Sound(begun, end - 0.03, BASS, 28 + (min(held) - 28) % 12, int(rng.uniform(70, 100))))
    return line


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("midi", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--songs", type=int, default=20)
    parser.add_argument("--from", dest="first", type=int, default=0, help="songs in order of name that are passed over")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--wild", action="store_true", help="harder to hear: see arrange()")
    asked = parser.parse_args()
    for font in FONTS:
        delays(font, asked.out / "delays")
    names = [path.stem for path in sorted(asked.midi.glob("*.mid"))][asked.first : asked.first + asked.songs]
    with ProcessPoolExecutor(asked.jobs) as pool:
        songs = list(pool.map(arrange, [asked.midi] * len(names), [asked.out] * len(names), names,
                              [asked.seed] * len(names), [asked.wild] * len(names)))  # fmt: skip
    write_manifest(asked.out, f"arrange.py --songs {asked.songs} --from {asked.first} --seed {asked.seed}", songs)
    print(f"{len(songs)} songs")
    return 0


if __name__ == "__main__":
    sys.exit(main())
