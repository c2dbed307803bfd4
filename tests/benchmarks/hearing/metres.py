"""Whether bars of five and seven are found, unaided and when somebody says how long they are.

    python tests/benchmarks/hearing/metres.py SET... [--each] [--jobs 2]

A song is right where F of its downbeats is .8 or more (70 ms, from 5 s on) and most bars have as many beats as they
should. Of every song its true metre is the wish that is tried. ``compose.py odd --songs 20 --seed 9 --odd`` makes such
songs.
"""

from __future__ import annotations

import argparse
import sys
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import NamedTuple

import numpy as np
from known import Known, beat_scores, downbeat_f, songs_of

from eavesong.music.bands import gather, powers_meter
from eavesong.music.ear import Ear, ear_meters
from eavesong.music.grid import BeatGrid
from eavesong.music.reading import Wishes
from eavesong.music.sound import open_sound
from eavesong.music.track import track

RIGHT = 0.8


class Result(NamedTuple):
    """One song, heard once."""

    f: float
    cmlt: float
    bars: float
    """F of downbeats."""
    metre: int
    """Beats of most bars."""
    right: bool


def lengths_of(song: Known) -> np.ndarray:
    """Beats of each of its true bars."""
    return np.diff(np.searchsorted(song.beats, song.downbeats - 0.02))


def metre_of(song: Known) -> int:
    """Beats of most of its true bars."""
    return usual(lengths_of(song))


def usual(lengths: np.ndarray) -> int:
    """What most of them are."""
    return int(np.bincount(lengths).argmax()) if len(lengths) else 0


def heard(song: Known) -> tuple[Result, Result]:
    """A song, unaided and with its metre."""
    with open_sound(song.audio) as sound:
        powers, fine, chroma = gather(sound, [powers_meter(sound.rate), *ear_meters(sound.rate)])
    ear, metre = Ear(fine, chroma, powers.duration), metre_of(song)
    grids = [track(powers, ear, wishes)[0].grid for wishes in (Wishes(), Wishes(metre=metre))]
    return judged(song, grids[0], metre), judged(song, grids[1], metre)


def judged(song: Known, grid: BeatGrid, metre: int) -> Result:
    """How a grid stands beside the truth."""
    f, cmlt, _ = beat_scores(song.beats, np.array(grid.times))
    bars = downbeat_f(song.downbeats, np.array(grid.downbeats))
    found = usual(np.diff(np.flatnonzero(np.array(grid.positions) == 1)))
    return Result(f, cmlt, bars, found, found == metre and bars >= RIGHT)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("sets", type=Path, nargs="+")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--each", action="store_true", help="every song")
    asked = parser.parse_args()
    for folder in asked.sets:
        every = songs_of([folder])
        songs = [song for song in every if len(set(lengths_of(song))) == 1]
        print(f"{folder.name}: bars change length in {len(every) - len(songs)} of {len(every)} songs, left out")
        with ProcessPoolExecutor(asked.jobs) as pool:
            found = list(pool.map(heard, songs))
        for song, both in zip(songs, found, strict=True):
            if asked.each:
                cells = "   ".join(
                    f"F {one.f:.2f} CMLt {one.cmlt:.2f} bars {one.bars:.2f} of {one.metre}" for one in both
                )
                print(f"  {song.name:26} in {metre_of(song)}: {cells}")
        for words, results in zip(("unaided", "with the metre"), zip(*found, strict=True), strict=True):
            print(f"{folder.name}, {words}: {sum(one.right for one in results)} of {len(songs)} right, "
                  f"metre {sum(one.metre == metre_of(song) for one, song in zip(results, songs, strict=True))}, "
                  f"F {np.mean([one.f for one in results]):.3f}, "
                  f"CMLt {np.mean([one.cmlt for one in results]):.3f}, "
                  f"F of downbeats {np.mean([one.bars for one in results]):.3f}")  # fmt: skip
    return 0


if __name__ == "__main__":
    sys.exit(main())
