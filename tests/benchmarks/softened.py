"""Soften films, with limits and without, and count those that fail afterwards: python tests/benchmarks/softened.py

2,000 films of six kinds and more on two houses, at several frame rates. Each is dimmed and softened as a render would,
then looked at by the independent count in tests/flashing.py, which tries every pair of frames of every second, and
measured against the limit. Takes some minutes.
"""

import argparse
import itertools
import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))
import films
import flashing
from eavesong.within.rig import rig_of
from eavesong.within.stages import within
from support import line, points

LIMITS = (None, 0.15, 0.3, 0.6)
"""Of what full white draws, beyond idle."""
RATES = (16.0, 20.0, 30.0, 40.0)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--films", type=int, default=2000)
    parser.add_argument("--first", type=int, default=0)
    options = parser.parse_args()
    houses = (points(line(40)), films.screen())
    cases = list(itertools.product(films.KINDS, LIMITS, RATES, houses))
    flashing_before = failed = above = changed = held = 0
    for number in range(options.first, options.first + options.films):
        kind, limit, rate, house = cases[number * 101 % len(cases)]  # 101 is prime: all of them, well mixed
        rig = rig_of(house)
        film = films.film(np.random.default_rng(number), kind, house.pixel_count, round(2.5 * rate), rate)
        full, idle = rig.full.sum() * 5, rig.idle.sum() * 5
        watts = None if limit is None else idle + limit * (full - idle)
        out = softened(house, rate, film, watts)
        before, after = (flashing.passes(light_of(rig, frames), int(rate), house) for frames in (film, out))
        flashing_before += not before
        failed += not after
        changed += before and not np.array_equal(film, out) and limit is None
        moves, moved = (np.diff(frames.astype(int), axis=0).any(axis=1) for frames in (film, out))
        held += int((moves & ~moved).sum())
        if watts is not None and drawn(rig, out).max() > watts * (1 + 1e-6):
            above += 1
            print(f"film {number} ({kind}, {rate:g} a second) draws {drawn(rig, out).max():.3f} of {watts:.3f} W")
        if not after:
            print(f"film {number} ({kind}, {rate:g} a second, limit {limit}) fails")
    print(f"{options.films} films, {flashing_before} of them flash too often before softening")
    print(f"after limit and softening: {failed} flash too often, {above} draw too much")
    print(f"changed though they passed, without a limit: {changed}; frames held still: {held}")


def softened(house, rate, film, watts):
    """The film as a render would leave it."""
    stages = within(house, rate, [] if watts is None else [f"house:{watts:.6f}W"], True)
    blocks = (stages.measured(film[at : at + 16].copy()) for at in range(0, len(film), 16))
    return np.concatenate([stages.finished(part) for part in stages.pass_through(blocks, 0, len(film), 16)])


def light_of(rig, frames):
    """Linear light (f, n, 3) of frames (f, channels) of pixels without white."""
    return rig.tables[rig.curves[:, None], frames[:, rig.places[:, :3]]].astype(np.float64)


def drawn(rig, frames):
    """(f,) watts of the whole house at 5 V."""
    return 5 * (frames.astype(np.float64) @ rig.channel_amperes() + rig.idle.sum())


if __name__ == "__main__":
    main()
