"""Write bare clicks with known beats, 45 to 220 a minute: what a tracker must not read at half or double speed.

    python tests/benchmarks/hearing/bare_clicks.py OUT_DIR --songs 60 --seed 1

Noise, beeps and woodblocks, some with an accent on each downbeat, nothing between them. A set as `known.py` reads it;
songs without an accent have their first click as the first downbeat of bars of four.
"""

import argparse
import sys
from pathlib import Path

import numpy as np
import soundfile

RATE = 22_050


def click(kind: int, chance: np.random.Generator) -> np.ndarray:
    """A noise burst, a beep or a knock."""
    t = np.arange(round(0.08 * RATE)) / RATE
    if kind == 0:
        return chance.uniform(-0.6, 0.6, len(t)) * np.exp(-t / chance.uniform(0.002, 0.015))
    hertz = chance.uniform(500, 2_500) if kind == 1 else chance.uniform(150, 700)
    return 0.6 * np.sin(2 * np.pi * hertz * t) * np.exp(-t / chance.uniform(0.01, 0.04))


def write_song(folder: Path, number: int, seed: int) -> None:
    """One song of clicks."""
    chance = np.random.default_rng([seed, number])
    tempo, seconds, metre = 45 * (220 / 45) ** chance.random(), chance.uniform(24, 50), int(chance.choice([2, 3, 4, 4]))
    times = np.arange(chance.uniform(0.1, 2.0), seconds - 0.2, 60 / tempo)
    plain, accented = click(number % 3, chance), click(int(chance.integers(3)), chance)
    metre = metre if (bars := bool(number % 2)) else 4
    sound = chance.normal(0, 10 ** chance.uniform(-5, -3), round(seconds * RATE))
    for beat, time in enumerate(times):
        part = 1.4 * accented if bars and beat % metre == 0 else plain
        begin = round(time * RATE)
        sound[begin : begin + len(part)] += part[: len(sound) - begin]
    name = f"{number:03d}_bare_{tempo:.0f}"
    soundfile.write(folder / "audio" / f"{name}.wav", np.clip(sound, -1, 1), RATE)
    np.savetxt(folder / "truth" / f"{name}.beats.txt", times, "%.4f")
    np.savetxt(folder / "truth" / f"{name}.downbeats.txt", times[::metre], "%.4f")


def main(arguments: list[str]) -> None:
    options = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    options.add_argument("folder", type=Path)
    options.add_argument("--songs", type=int, default=60)
    options.add_argument("--seed", type=int, default=1)
    chosen = options.parse_args(arguments)
    for part in ("audio", "truth"):
        (chosen.folder / part).mkdir(parents=True, exist_ok=True)
    for number in range(chosen.songs):
        write_song(chosen.folder, number, chosen.seed)


if __name__ == "__main__":
    main(sys.argv[1:])
