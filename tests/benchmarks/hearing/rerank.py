"""Learn the ranking and the confidence anew, from songs that neither the pulse nor the nets have met.

    python tests/benchmarks/hearing/rerank.py SET... --kept FOLDER --pulses FOLDER [--out FILE] [--ablation]

Nets judge beats of songs that they learned from too well, so what ranks should be learned from others. The nets of
the model that ships stay as they are. Prints how well songs of one part are heard with a ranking from the other
three, before even beats are preferred.
"""

from __future__ import annotations

import argparse
import re
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from zlib import crc32

import numpy as np
from known import Known, songs_of
from learn import learn_ranking, learn_sureness
from numpy.typing import NDArray
from train import ABLATION, PARTS, Row, explained, hear, table_of, worth

from eavesong.music.explain import standing
from eavesong.music.model import FILE, Model, model, write_model

Floats = NDArray[np.float64]
HEAT = 0.15


def rows_of(song: Known, kept: Path, pulses: Path) -> list[Row]:
    """The explanations of a song by the model that ships."""
    return explained(hear(song, kept, pulses), song.downbeats, model())


def part_of(name: str) -> int:
    """The part that a song belongs to, with all of its variants."""
    return crc32(re.sub(r"_v\d+$", "", name).encode()) % PARTS


def ranking_of(songs: list[list[Row]], given: NDArray[np.bool_] | None = None) -> dict[str, Floats]:
    """What ranks explanations, by the names of `Model`, from these songs, where only ``given`` figures are seen."""
    tables = [table_of(rows) * (1.0 if given is None else given) for rows in songs]
    ranking = learn_ranking([(table, worth(rows)) for table, rows in zip(tables, songs, strict=True)], HEAT)
    return dict(zip(("rank_mean", "rank_spread", "rank"), ranking, strict=True))


def told_apart(
    songs: list[list[Row]], part: NDArray[np.int64], judge: Model, given: NDArray[np.bool_] | None = None
) -> tuple[Floats, Floats]:
    """How the chosen explanation stands (m, 3) in songs whose part the ranking has not met, and F, CMLt and F of
    downbeats (m, 3)."""
    standings, shares = np.zeros((2, len(songs), 3))
    for number in range(PARTS):
        known = [rows for rows, own in zip(songs, part, strict=True) if own != number]
        ranked = replace(judge, **ranking_of(known, given))
        for index in np.flatnonzero(part == number):
            rows = songs[index]
            scores = ranked.score(table_of(rows) * (1.0 if given is None else given))
            scored = [replace(row.explanation, score=float(score)) for row, score in zip(rows, scores, strict=True)]
            best = int(np.argmax(scores))
            standings[index], shares[index] = standing(scored[best], scored), rows[best][1:]
    return standings, shares


def learned(songs: list[list[Row]], names: list[str], judge: Model) -> Model:
    """``judge`` with a ranking and a confidence learned from these songs."""
    standings, shares = told_apart(songs, np.array([part_of(name) for name in names]), judge)
    print(f"{len(songs)} songs, F {shares[:, 0].mean():.3f}, CMLt {shares[:, 1].mean():.3f}, "
          f"F of downbeats {shares[:, 2].mean():.3f}", flush=True)  # fmt: skip
    sureness = learn_sureness(standings, shares[:, 0])
    return replace(judge, **ranking_of(songs), sureness=sureness)


def print_ablation(songs: list[list[Row]], names: list[str], judge: Model) -> None:
    """How well songs are heard when the ranking is given less."""
    part, count = np.array([part_of(name) for name in names]), len(songs[0][0].explanation.figures)
    for words, columns in ABLATION.items():
        given = np.zeros(count, bool)
        for taken in columns:
            given[taken] = True
        f, cmlt, bars = told_apart(songs, part, judge, given)[1].mean(axis=0)
        print(f"{words:<52} {f:.3f}  {cmlt:.3f}  {bars:.3f}", flush=True)


def main(arguments: list[str]) -> None:
    options = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    options.add_argument("sets", nargs="+", type=Path)
    options.add_argument("--kept", type=Path, required=True, help="Folder for what is heard.")
    options.add_argument("--pulses", type=Path, required=True, help="Folder of pulse-0.npz and pulse-1.npz.")
    options.add_argument("--out", type=Path, default=FILE)
    options.add_argument("--jobs", type=int, default=2)
    options.add_argument("--ablation", action="store_true")
    chosen = options.parse_args(arguments)
    known = songs_of(chosen.sets)
    with ProcessPoolExecutor(chosen.jobs, get_context("spawn")) as workers:
        told = list(workers.map(partial(rows_of, kept=chosen.kept, pulses=chosen.pulses), known, chunksize=4))
    songs = [rows for rows in told if rows]
    names = [song.name for song, rows in zip(known, told, strict=True) if rows]
    write_model(chosen.out, learned(songs, names, model()))
    if chosen.ablation:
        print_ablation(songs, names, model())


if __name__ == "__main__":
    main(sys.argv[1:])
