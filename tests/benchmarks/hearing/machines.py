"""Make dance music of machines with exactly known beats: bass drums on the beats, basses and chords between them.

    python tests/benchmarks/hearing/machines.py OUT_DIR --songs 40 --seed 1

House, techno, trance, electro and broken beats, synthesised with numpy to the sample, at one tempo all through. The
bass mostly falls off the beat and is often stronger than the drum, chords and open hi-hats fall there too, and what
sounds is ducked under every bass drum, as such music is mixed (common practice). It goes through an opening, a break
without the bass drum and a return. The same command makes the same songs. Nothing was trained on them.
"""

import argparse
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from compose_effects import treat
from compose_write import RATE, Truth, write_manifest, write_sound
from loops import strike
from scipy.signal import butter, sosfilt

STEPS = 16
"""Sixteenths of a bar of four."""


@dataclass
class Style:
    """A kind of dance music: beats a minute, and the sixteenths that each part may be struck on."""

    tempo: tuple[float, float]
    kicks: tuple[tuple[int, ...], ...]
    claps: tuple[tuple[int, ...], ...]
    hats: tuple[tuple[int, ...], ...]
    basses: tuple[tuple[int, ...], ...]
    stabs: tuple[tuple[int, ...], ...]


FOUR, OFF = (0, 4, 8, 12), (2, 6, 10, 14)
ALL = tuple(range(STEPS))
STYLES = {
    "house": Style((118, 129), (FOUR,), ((4, 12),), (OFF, OFF, ALL),
                   (OFF, (2, 5, 6, 10, 13, 14), (2, 6, 10, 11, 14)), ((2, 6, 10, 14), (3, 6, 11, 14), (2, 7, 10, 15))),
    "techno": Style((126, 142), (FOUR,), ((), (4, 12), (12,)), (OFF, ALL, (2, 3, 6, 7, 10, 11, 14, 15)),
                    (OFF, (2, 3, 6, 7, 10, 11, 14, 15), (1, 2, 3, 5, 6, 7, 9, 10, 11, 13, 14, 15)),
                    ((3, 10), (6, 14), (2, 5, 10, 13))),
    "trance": Style((130, 145), (FOUR,), ((4, 12),), (OFF, OFF), ((1, 2, 3, 5, 6, 7, 9, 10, 11, 13, 14, 15), OFF),
                    (OFF, (0, 3, 6, 8, 11, 14), (2, 3, 6, 7, 10, 11, 14, 15))),
    "electro": Style((108, 132), ((0, 6, 10), (0, 3, 10), (0, 7, 8, 11)), ((4, 12),), (ALL, OFF),
                     ((2, 3, 6, 10, 11, 14), (0, 3, 6, 11, 14)), ((6, 14), (2, 10))),
    "broken": Style((160, 178), ((0, 10), (0, 6, 10)), ((4, 12),), (tuple(range(0, STEPS, 2)), OFF),
                    ((2, 7, 10), (0, 3, 10, 13)), ((6,), (2, 14))),
}  # fmt: skip
SHARES = (0.32, 0.26, 0.2, 0.12, 0.1)
STRUCK = {"kick": "low", "clap": "middle", "hat": "high"}
PARTS = ("kick", "clap", "hat", "bass", "stab", "pad")
FORMS = (
    (("kick hat", 8), ("kick hat bass", 8), ("kick clap hat bass stab", 16), ("pad stab", 8),
     ("kick clap hat bass stab pad", 16)),
    (("pad", 4), ("kick bass", 8), ("kick clap hat bass", 16), ("bass stab pad", 8), ("kick clap hat bass stab", 16)),
    (("bass hat", 4), ("kick hat bass stab", 16), ("hat pad", 8), ("kick clap hat bass stab pad", 16), ("kick hat", 4)),
)  # fmt: skip


def tone(pitch: float, seconds: float, overtones: np.ndarray) -> np.ndarray:
    """A synthesised note (samples,): overtones of these strengths, beginning at once and ending within 5 ms."""
    time = np.arange(int(seconds * RATE)) / RATE
    waves = np.sin(2 * np.pi * pitch * np.arange(1, len(overtones) + 1)[:, None] * time)
    ends = np.minimum(1, np.minimum(time / 0.003, (seconds - time) / 0.005))
    return (overtones @ waves) * ends


def make(style: Style, rng: np.random.Generator) -> tuple[np.ndarray, Truth, dict]:
    """The sound (samples, 2) of one song, its beats, and what it is."""
    tempo = float(np.round(rng.uniform(*style.tempo)) if rng.random() < 0.7 else rng.uniform(*style.tempo))
    step, lead = 15 / tempo, float(rng.choice([0.0, rng.uniform(0.05, 1.5)]))
    form = FORMS[int(rng.integers(len(FORMS)))]
    share = min(1.0, 100 / (sum(bars for _, bars in form) * STEPS * step))
    form = [(words.split(), max(2, round(bars * share / 2) * 2)) for words, bars in form]
    bars = sum(count for _, count in form)
    length = int((lead + bars * STEPS * step + 1) * RATE)
    lines = {part: np.zeros(length) for part in PARTS}
    roots = 41.2 * 2 ** (rng.choice([0, 3, 5, 7, 8, 10], 4) / 12)
    steps = {part: each[int(rng.integers(len(each)))] for part, each in
             zip(PARTS, (style.kicks, style.claps, style.hats, style.basses, style.stabs), strict=False)}  # fmt: skip
    drums = {part: strike(kind, rng) for part, kind in (("kick", "kick"), ("clap", "snare"), ("hat", "hat"))}
    dark, bright = 1 / np.arange(1, 5) ** rng.uniform(0.5, 2), 1 / np.arange(1, 9) ** rng.uniform(0.7, 1.5)
    held = rng.uniform(0.5, 1.0)
    number, events = 0, []
    for words, count in form:
        for bar in range(number, number + count):
            root = roots[bar // 2 % 4]
            for part in words:
                for at in steps.get(part, (0,)):
                    begin = round((lead + (bar * STEPS + at) * step) * RATE)
                    if part in drums:
                        sound = drums[part]
                    elif part == "bass":
                        sound = tone(root, held * step * (2 if len(steps["bass"]) < 6 else 1), dark)
                    else:
                        seconds = STEPS * step if part == "pad" else held * step
                        sound = sum(tone(4 * root * ratio, seconds, bright) for ratio in (1, 1.2, 1.5))
                    end = min(length, begin + len(sound))
                    lines[part][begin:end] += sound[: end - begin]
                    if part in drums:
                        events.append((begin / RATE, STRUCK[part]))
        number += count
    levels = {"kick": 1.0, "clap": rng.uniform(0.3, 0.7), "hat": rng.uniform(0.1, 0.4),
              "bass": rng.uniform(0.5, 1.4), "stab": rng.uniform(0.2, 0.7), "pad": rng.uniform(0.1, 0.4)}  # fmt: skip
    wave = sum(levels[part] * _ducked(part, line, events, rng) for part, line in _evened(lines).items())
    wave = np.tanh(rng.uniform(0.8, 2.0) * wave)[:, None].repeat(2, axis=1)
    beats = lead + np.arange(bars * 4) * 4 * step
    return wave, Truth(beats, beats[::4], events=events), {"tempo": round(tempo, 2), "steps": steps}


def _evened(lines: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    return {part: line / max(np.abs(line).max(), 1e-9) for part, line in lines.items()}


def _ducked(part: str, line: np.ndarray, events: list[tuple[float, str]], rng: np.random.Generator) -> np.ndarray:
    """``line`` made softer for a moment after every bass drum, unless it is a drum."""
    if part in ("kick", "clap", "hat") or rng.random() < 0.3:
        return line
    depth, seconds = rng.uniform(0.3, 0.95), rng.uniform(0.08, 0.25)
    gain, hole = np.ones(len(line)), 1 - depth * np.exp(-np.arange(int(0.5 * RATE)) / (seconds * RATE))
    for time, label in events:
        if label == "low":
            begin = round(time * RATE)
            end = min(len(line), begin + len(hole))
            gain[begin:end] = np.minimum(gain[begin:end], hole[: end - begin])
    return sosfilt(butter(1, 15_000, "low", fs=RATE, output="sos"), line * gain)


def write_one(out: Path, at: int, seed: int) -> dict:
    """Make and write one song of a set; its line of the manifest."""
    rng = np.random.default_rng([seed, 81, at])
    genre = str(rng.choice(list(STYLES), p=SHARES))
    wave, truth, about = make(STYLES[genre], rng)
    wave, effects = treat(wave, rng) if rng.random() < 0.3 else (0.9 * wave / np.abs(wave).max(), [])
    name = f"{at:03d}_{genre}"
    write_sound(out, name, wave, truth)
    return {"name": name, "genre": genre, **about, "effects": effects}


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("out", type=Path)
    parser.add_argument("--songs", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    songs = [write_one(asked.out, at, asked.seed) for at in range(asked.songs)]
    write_manifest(asked.out, f"machines.py --songs {asked.songs} --seed {asked.seed}", songs)
    print(f"{len(songs)} songs")
    return 0


if __name__ == "__main__":
    sys.exit(main())
