"""Make plain loops of synthesised drums with exactly known beats: what people try a beat tracker with first.

    python tests/benchmarks/hearing/loops.py OUT_DIR --songs 80 --seed 1

One bar of bass drum, snare and hi-hat over and over, some with a bass or a held chord, to the sample; two thirds of
them dry. Every loop begins with its bar: where drums repeat within a bar, nothing else tells where it begins. The same
command makes the same loops.
"""

import argparse
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from compose_effects import treat
from compose_write import RATE, Truth, write_manifest, write_sound
from scipy.signal import butter, sosfilt


@dataclass
class Bar:
    """A kind of bar: beats, steps of a beat, beats a minute, and the steps that drums may be struck on."""

    name: str
    beats: int
    steps: int
    tempo: tuple[float, float]
    kicks: tuple[tuple[int, ...], ...]
    snares: tuple[tuple[int, ...], ...]


# How drums are commonly played in these metres: common practice.
BARS = (
    Bar("backbeat", 4, 4, (66, 184),
        ((0,), (0, 8), (0, 8, 10), (0, 10), (0, 6, 8), (0, 7, 10), (0, 2, 8), (0, 8, 14), (0, 6, 10), (0, 3, 8)),
        ((4, 12),)),
    Bar("four_on_the_floor", 4, 4, (96, 180), ((0, 4, 8, 12),), ((), (4, 12), (4, 12))),
    Bar("two", 2, 4, (80, 150), ((0,), (0, 2)), ((4,),)),
    Bar("waltz", 3, 4, (84, 190), ((0,), (0, 10)), ((4, 8), (8,))),
    Bar("six_eight", 2, 3, (48, 110), ((0,), (0, 2), (0, 5)), ((3,),)),
    Bar("shuffle", 4, 3, (76, 170), ((0, 6), (0,), (0, 5, 6)), ((3, 9),)),
)  # fmt: skip
SHARES = (0.5, 0.12, 0.06, 0.14, 0.08, 0.1)
STROKES = {"kick": "low", "snare": "middle", "hat": "high"}


def strike(kind: str, rng: np.random.Generator) -> np.ndarray:
    """One stroke (samples,) of a drum whose pitch, colour and length are drawn anew."""
    time = np.arange(int(0.5 * RATE)) / RATE
    noise = rng.normal(size=len(time))
    if kind == "kick":
        low, high, fall = rng.uniform(40, 65), rng.uniform(90, 300), rng.uniform(0.01, 0.05)
        phase = 2 * np.pi * np.cumsum(low + (high - low) * np.exp(-time / fall)) / RATE
        return np.sin(phase) * np.exp(-time / rng.uniform(0.05, 0.2))
    if kind == "snare":
        tone = np.sin(2 * np.pi * rng.uniform(150, 260) * time) * np.exp(-time / rng.uniform(0.03, 0.1))
        edges = [rng.uniform(300, 1500), rng.uniform(4000, 12000)]
        band = sosfilt(butter(2, edges, "band", fs=RATE, output="sos"), noise)
        return rng.uniform(0, 0.6) * tone + band * np.exp(-time / rng.uniform(0.03, 0.12))
    bright = sosfilt(butter(4, rng.uniform(5000, 9000), "high", fs=RATE, output="sos"), noise)
    return bright * np.exp(-time / rng.uniform(0.01, 0.06))


def hats_of(bar: Bar, rng: np.random.Generator) -> tuple[int, ...]:
    """The steps of a bar that hi-hats are struck on: none, the beats, halves of them, all, or what is between.

    In threes halves are all; a shuffle's first and third step are one more way there.
    """
    steps = bar.beats * bar.steps
    half = bar.steps // 2 if bar.steps % 2 == 0 else 1
    ways = [(), tuple(range(0, steps, bar.steps)), tuple(range(0, steps, half)), tuple(range(0, steps, half)),
            tuple(range(steps)), tuple(range(half, steps, bar.steps))]  # fmt: skip
    if bar.steps == 3:
        ways = [*ways, tuple(step for step in range(steps) if step % 3 != 1)]
    return ways[int(rng.integers(len(ways)))]


def tune(bar: Bar, bar_seconds: float, bars: int, kicks: tuple[int, ...], rng: np.random.Generator) -> np.ndarray:
    """A bass on the steps of the bass drum, or a chord or bass held for each bar (samples,): the same four in turn."""
    roots = 55.0 * 2 ** (rng.choice([0, 2, 3, 5, 7, 8, 10], 4) / 12)
    held = rng.random() < 0.6
    tones = np.array([4, 5, 6] if held and rng.random() < 0.5 else [1, 2, 3])
    line = np.zeros(int((bars * bar_seconds + 1) * RATE))
    for number in range(bars):
        root = roots[number % 4]
        for step in (0,) if held else kicks:
            begin = round((number + step / (bar.beats * bar.steps)) * bar_seconds * RATE)
            time = np.arange(int((bar_seconds if held else 0.25) * RATE)) / RATE
            swell = np.minimum(1, time / 0.01) * np.exp(-time * (0.5 if held else 6))
            tone = np.sin(2 * np.pi * root * tones[:, None] * time).sum(axis=0) * swell
            line[begin : begin + len(time)] += tone
    return line


def loop(rng: np.random.Generator) -> tuple[np.ndarray, Truth, dict]:
    """The sound (samples, 2) of one loop, its beats, and what it is."""
    bar = BARS[int(rng.choice(len(BARS), p=SHARES))]
    tempo = float(np.exp(rng.uniform(*np.log(bar.tempo))))
    kicks, snares = (group[int(rng.integers(len(group)))] for group in (bar.kicks, bar.snares))
    struck = {"kick": kicks, "snare": snares, "hat": hats_of(bar, rng)}
    seconds = bar.beats * 60 / tempo
    bars = int(np.ceil(rng.uniform(28, 50) / seconds))
    lead = rng.uniform(0, 1.5)
    line = np.zeros(int((bars * seconds + 1) * RATE))
    levels = {"kick": 1.0, "snare": rng.uniform(0.5, 1.0), "hat": rng.uniform(0.08, 0.4)}
    events = []
    for kind, steps in struck.items():
        stroke = strike(kind, rng)
        stroke = levels[kind] * stroke / np.abs(stroke).max()
        for number in range(bars):
            for step in steps:
                begin = round((number + step / (bar.beats * bar.steps)) * seconds * RATE)
                line[begin : begin + len(stroke)] += stroke
                events.append(((int(lead * RATE) + begin) / RATE, STROKES[kind]))
    if rng.random() < 0.4:
        more = tune(bar, seconds, bars, kicks, rng)
        line += rng.uniform(0.1, 0.5) * more / np.abs(more).max()
    wave = np.concatenate([np.zeros(int(lead * RATE)), line])[:, None].repeat(2, axis=1)
    beats = int(lead * RATE) / RATE + np.arange(bars * bar.beats) * 60 / tempo
    about = {"genre": bar.name, "tempo": round(tempo, 2), "metre": f"{bar.beats}", "steps": struck}
    return wave, Truth(beats, beats[:: bar.beats], events=events), about


def write_one(out: Path, at: int, seed: int) -> dict:
    """Make and write one loop of a set; its line of the manifest."""
    rng = np.random.default_rng([seed, 79, at])
    wave, truth, about = loop(rng)
    wave, effects = treat(wave, rng) if rng.random() < 0.3 else (0.9 * wave / np.abs(wave).max(), [])
    name = f"{at:03d}_{about['genre']}"
    write_sound(out, name, wave, truth)
    return {"name": name, **about, "effects": effects}


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("out", type=Path)
    parser.add_argument("--songs", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    songs = [write_one(asked.out, at, asked.seed) for at in range(asked.songs)]
    write_manifest(asked.out, f"loops.py --songs {asked.songs} --seed {asked.seed}", songs)
    print(f"{len(songs)} loops")
    return 0


if __name__ == "__main__":
    sys.exit(main())
