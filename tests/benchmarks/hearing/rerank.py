"""Learn what ranks whole explanations, and how sure they are, from songs that neither the pulse nor the nets know.

    python tests/benchmarks/hearing/rerank.py JUDGED... --nets FILE... [--out FILE] [--ablation]

``JUDGED`` are files that ``train.py judge`` wrote. Nets judge beats of songs that they learned from too well, so what
ranks is learned from others. Prints how well songs of one part are heard with a ranking from the other three, before
even beats are preferred.
"""

from __future__ import annotations

import argparse
import gzip
import pickle
import re
import sys
from dataclasses import replace
from pathlib import Path
from zlib import crc32

import numpy as np
from learn import learn_ranking, learn_sureness
from numpy.typing import NDArray
from train import Judgement, model_of

from eavesong.music.explain import WAYS, Explanation, standing
from eavesong.music.model import FILE, Model, write_model

Floats = NDArray[np.float64]
PARTS = 4
HEAT = 0.15
JUDGED, FAVOUR, BARRED = slice(0, 6), slice(6, 7), slice(7, 12)
PULSED_BARS, PULSED, METRE, BESIDE = slice(12, 17), slice(17, 25), slice(25, 55), slice(55, 65)
"""Which of an explanation's figures are which."""
ABLATION: dict[str, list[slice]] = {
    "everything": [],
    "without what speaks for it against others": [FAVOUR],
    "without judging beats one by one": [JUDGED],
    "without either of these": [JUDGED, FAVOUR],
    "without evidence of bars": [BARRED, PULSED_BARS],
    "without the pulse on beats": [PULSED],
    "without the pulse on beats and bars": [PULSED_BARS, PULSED],
    "without the metre, and the tempo that fits it": [METRE],
    "without how a candidate stands beside the others": [BESIDE],
}
"""What the ranking is not given."""


def part_of(name: str) -> int:
    """The part that a song belongs to, with all of its variants."""
    return crc32(re.sub(r"\d+/", "/", name).encode()) % PARTS


def worth(song: Judgement) -> Floats:
    """How good each explanation is, 0 to 1."""
    f, cmlt = np.repeat(song.levels, len(WAYS), axis=0).T
    return np.asarray(0.35 * f + 0.35 * cmlt + 0.3 * song.bars)


def ranking_of(songs: list[Judgement], given: NDArray[np.bool_]) -> dict[str, NDArray[np.float32]]:
    """What ranks explanations, by the names of `Model`, from these songs, where only ``given`` figures are seen."""
    ranking = learn_ranking([(song.figures * given, worth(song)) for song in songs], HEAT)
    return dict(zip(("rank_mean", "rank_spread", "rank"), ranking, strict=True))


def scored(song: Judgement, judge: Model, given: NDArray[np.bool_]) -> list[Explanation]:
    """A song's explanations with their scores, without their bars."""
    scores = judge.score(song.figures * given)
    none = np.zeros(0, np.int16)
    return [
        Explanation(song.judged[at // len(WAYS)], none, WAYS[at % len(WAYS)], song.figures[at], float(score))
        for at, score in enumerate(scores)
    ]


def told_apart(songs: list[Judgement], judge: Model, given: NDArray[np.bool_]) -> tuple[Floats, Floats]:
    """How the chosen explanation stands (m, 3) in songs whose part the ranking has not met, and F, CMLt and F of
    downbeats (m, 3)."""
    part = np.array([part_of(song.name) for song in songs])
    standings, shares = np.zeros((2, len(songs), 3))
    for number in range(PARTS):
        known = [song for song, own in zip(songs, part, strict=True) if own != number]
        ranked = replace(judge, **ranking_of(known, given))
        for index in np.flatnonzero(part == number):
            song = songs[index]
            found = scored(song, ranked, given)
            best = int(np.argmax([one.score for one in found]))
            standings[index] = standing(found[best], found)
            shares[index] = [*song.levels[best // len(WAYS)], song.bars[best]]
    return standings, shares


def print_sets(songs: list[Judgement], shares: Floats) -> None:
    """How well the songs of each kind are heard, and how well they would be with the best candidate."""
    kinds = np.array([re.sub(r"\d*/.*", "", song.name) for song in songs])
    best = np.array([song.levels[:, 0].max() for song in songs])
    for kind in [*sorted(set(kinds)), ""]:
        chosen = np.flatnonzero(kinds == kind) if kind else np.arange(len(songs))
        f, cmlt, bars = shares[chosen].mean(axis=0)
        print(f"{kind or 'all':<12} {len(chosen):>5}  F {f:.3f}, CMLt {cmlt:.3f}, F of downbeats {bars:.3f}; "
              f"best candidate's F {best[chosen].mean():.3f}", flush=True)  # fmt: skip


def judged_in(paths: list[Path]) -> list[Judgement]:
    """The songs in these files that have explanations."""
    songs: list[Judgement] = []
    for path in paths:
        with gzip.open(path, "rb") as file:
            songs += pickle.load(file)
    return [replace(song, figures=song.figures.astype(np.float32)) for song in songs if len(song.figures)]


def main(arguments: list[str]) -> None:
    options = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    options.add_argument("judged", nargs="+", type=Path)
    options.add_argument("--nets", nargs="+", type=Path, required=True)
    options.add_argument("--out", type=Path, default=FILE)
    options.add_argument("--ablation", action="store_true")
    chosen = options.parse_args(arguments)
    songs, judge = judged_in(chosen.judged), model_of(chosen.nets)
    everything = np.ones(songs[0].figures.shape[1], bool)
    standings, shares = told_apart(songs, judge, everything)
    print_sets(songs, shares)
    sureness = learn_sureness(standings, shares[:, 0])
    write_model(chosen.out, replace(judge, **ranking_of(songs, everything), sureness=sureness))
    if chosen.ablation:
        for words, columns in ABLATION.items():
            given = everything.copy()
            for taken in columns:
                given[taken] = False
            f, cmlt, bars = told_apart(songs, judge, given)[1].mean(axis=0)
            print(f"{words:<52} {f:.3f}  {cmlt:.3f}  {bars:.3f}", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
