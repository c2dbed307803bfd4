"""Train what judges beats and ranks explanations on songs with known beats, and write the model that ships.

    python tests/benchmarks/hearing/train.py SET... --kept FOLDER [--out src/eavesong/music/model.npz] [--ablation]

Prints how well it does on songs it was not trained on (four parts, songs of one name in one part), which is also what
confidence is learned from. Some eight minutes for 430 songs, once they have been heard. With ``--ablation`` also
what is lost when the ranking knows less.
"""

from __future__ import annotations

import argparse
import re
import sys
import time
from dataclasses import dataclass, fields, replace
from pathlib import Path

import numpy as np
from known import Known, beat_scores, downbeat_f, ear_of, songs_of
from learn import learn_beats, learn_ranking, learn_sureness
from numpy.typing import NDArray

from eavesong.music.bands import FRAME_RATE
from eavesong.music.candidates import candidates, nearest
from eavesong.music.evidence import beat_figures
from eavesong.music.explain import Judged, explanations, standing
from eavesong.music.figures import figures, traces
from eavesong.music.model import FILE, Model, write_model
from eavesong.music.novelty import novelty
from eavesong.music.refine import CENTRE

Floats = NDArray[np.float64]
PARTS = 4
TOLERANCE = 0.07
"""Seconds within which a beat is right, as in the F measure."""
INTERVAL = 0.175
"""Share by which the interval may be wrong, as in CMLt."""
ALL = slice(0, 155)
JUDGED, BARRED, METRE, TEMPO, BEGINS = slice(0, 6), slice(6, 11), slice(11, 35), slice(35, 52), slice(52, 124)
CHANGES, REPEATS, ON_BEATS = slice(124, 132), slice(132, 155), slice(112, 113)
"""Which of an explanation's figures are which."""
ABLATION: dict[str, tuple[list[slice], list[slice]]] = {
    "everything": ([ALL], []),
    "without judging beats one by one": ([ALL], [JUDGED]),
    "without evidence of bars": ([ALL], [BARRED, METRE]),
    "without the tempo": ([ALL], [TEMPO]),
    "without what begins between beats": ([ALL], [BEGINS]),
    "without changes of notes": ([ALL], [CHANGES]),
    "without what repeats": ([ALL], [REPEATS]),
    "beats judged one by one, and bars, alone": ([JUDGED, BARRED, METRE], []),
    "one curve on beats, and the tempo, alone": ([ON_BEATS, TEMPO], []),
}
"""What the ranking is given, and what of it is taken away."""
CANDIDATES = 7
"""Of each song to learn beats from: the two best, and others by chance."""


@dataclass(frozen=True, eq=False)
class Candidate:
    """One candidate of one song, with what is true of it."""

    beats: Floats
    figures: Floats
    beat_figures: NDArray[np.float16]
    right: NDArray[np.float32]
    bar: NDArray[np.float32]
    f: float
    cmlt: float


def hear(song: Known, kept: Path) -> list[Candidate]:
    """The candidates of a song."""
    ear = ear_of(song, kept)
    curves = novelty(ear)
    trails = traces(ear, curves)
    found = []
    for beats in candidates(curves):
        seconds = beats / FRAME_RATE - CENTRE
        f, cmlt, _ = beat_scores(song.beats, np.maximum(seconds, 0))
        told = beat_figures(beats, trails).astype(np.float16)
        found.append(Candidate(beats, figures(beats, trails), told, *_truth(seconds, song), f, cmlt))
    return found


def _truth(seconds: Floats, song: Known) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    true, downbeats = song.beats, song.downbeats
    if len(true) < 3 or len(downbeats) < 2:
        return np.zeros(len(seconds), np.float32), np.zeros(len(seconds), np.float32)
    near = nearest(seconds, true)
    steady = np.abs(np.gradient(seconds) / np.gradient(true)[near] - 1) < INTERVAL
    right = (np.abs(seconds - true[near]) < TOLERANCE) & steady
    bar = np.abs(seconds - downbeats[nearest(seconds, downbeats)]) < TOLERANCE
    return right.astype(np.float32), bar.astype(np.float32)


def learn_from(heard: list[list[Candidate]], seed: int) -> dict[str, NDArray[np.float32]]:
    """The weights that judge beats, learned from these songs."""
    chance = np.random.default_rng(seed)
    chosen: list[Candidate] = []
    for song in heard:
        order = sorted(range(len(song)), key=lambda index: -song[index].f)
        rest = chance.permutation(order[2:])[: CANDIDATES - 2].astype(int)
        chosen += [song[index] for index in [*order[:2], *rest]]
    told = np.concatenate([one.beat_figures for one in chosen])
    return learn_beats(
        told, *(np.concatenate([getattr(one, what) for one in chosen]) for what in ("right", "bar")), seed
    )


def blank(weights: dict[str, NDArray[np.float32]]) -> Model:
    """A model that judges beats with these weights and ranks nothing."""
    none = dict.fromkeys((field.name for field in fields(Model)), np.zeros(0, np.float32))
    return Model(**(none | weights))


def explained(song: Known, heard: list[Candidate], model: Model) -> list[tuple]:  # type: ignore[type-arg]
    """Every explanation of a song with its candidate and the F of its downbeats."""
    rows = []
    for one in heard:
        odds = model.judge(one.beat_figures.astype(np.float32))
        judged = Judged(one.beats, odds[:, 0], odds[:, 1], one.figures)
        for explanation in explanations(judged):
            bars = one.beats[explanation.positions == 1] / FRAME_RATE - CENTRE
            rows.append((explanation, one, downbeat_f(song.downbeats, np.maximum(bars, 0))))
    return rows


def worth(rows: list[tuple]) -> Floats:  # type: ignore[type-arg]
    """How good each explanation is, 0 to 1."""
    return np.array([0.35 * one.f + 0.35 * one.cmlt + 0.3 * bars for _, one, bars in rows])


def table_of(rows: list[tuple]) -> Floats:  # type: ignore[type-arg]
    """The figures of each explanation."""
    return np.array([explanation.figures for explanation, _, _ in rows])


def pairs(songs: list[list[tuple]]) -> list[tuple[Floats, Floats]]:  # type: ignore[type-arg]
    """Figures and worth of each song's explanations."""
    return [(table_of(rows), worth(rows)) for rows in songs]


def main(arguments: list[str]) -> None:
    options = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    options.add_argument("sets", nargs="+", type=Path)
    options.add_argument("--kept", type=Path, required=True, help="Folder for what is heard.")
    options.add_argument("--out", type=Path, default=FILE)
    options.add_argument("--ablation", action="store_true")
    chosen = options.parse_args(arguments)
    begun = time.monotonic()
    songs = songs_of(chosen.sets)
    heard = [hear(song, chosen.kept) for song in songs]
    usable = [index for index, found in enumerate(heard) if len(found) > 2]
    songs, heard = [songs[index] for index in usable], [heard[index] for index in usable]
    print(f"{len(songs)} songs heard, {time.monotonic() - begun:.0f} s", flush=True)
    model = train(songs, heard, chosen.ablation)
    write_model(chosen.out, model)
    print(f"wrote {chosen.out.name}, {chosen.out.stat().st_size / 1000:.0f} kB, {time.monotonic() - begun:.0f} s")


def train(songs: list[Known], heard: list[list[Candidate]], ablation: bool = False) -> Model:
    """The model from all songs; what ranks and weighs was learned from beats judged by nets that knew none of them."""
    stems = [re.sub(r"_v\d+$", "", song.name) for song in songs]
    order = {stem: place for place, stem in enumerate(np.random.default_rng(0).permutation(sorted(set(stems))))}
    part = np.array([order[stem] % PARTS for stem in stems])
    rows: list[list[tuple]] = [[] for _ in songs]  # type: ignore[type-arg]
    for number in range(PARTS):
        net = blank(learn_from([found for found, own in zip(heard, part, strict=True) if own != number], number))
        for index in np.flatnonzero(part == number):
            rows[index] = explained(songs[index], heard[index], net)
    if ablation:
        _print_ablation(rows, part)
    standings, shares, sets = [], [], []
    for number in range(PARTS):
        ranking = learn_ranking(pairs([rows[index] for index in np.flatnonzero(part != number)]))
        judge = replace(blank({}), rank_mean=ranking[0], rank_spread=ranking[1], rank=ranking[2])
        for index in np.flatnonzero(part == number):
            scores = judge.score(table_of(rows[index]))
            scored = [replace(row[0], score=float(score)) for row, score in zip(rows[index], scores, strict=True)]
            best = int(np.argmax(scores))
            standings.append(standing(scored[best], scored))
            one, bars = rows[index][best][1:]
            shares.append((one.f, one.cmlt, bars))
            sets.append(songs[index].set.name)
    _print(np.array(shares), np.array(sets))
    mean, spread, rank = learn_ranking(pairs(rows))
    sureness = learn_sureness(np.array(standings), np.array(shares)[:, 0])
    weights = learn_from(heard, PARTS)
    return replace(blank(weights), rank_mean=mean, rank_spread=spread, rank=rank, sureness=sureness)


def _print_ablation(rows: list[list[tuple]], part: NDArray[np.int64]) -> None:  # type: ignore[type-arg]
    """How well songs not trained on are ranked when the ranking is given less."""
    best = np.mean([max(one.f for _, one, _ in song) for song in rows])
    print(f"the best candidate of every song: F {best:.3f}")
    songs = pairs(rows)
    results = [np.array([(one.f, one.cmlt, bars) for _, one, bars in song]) for song in rows]
    for words, (given, taken) in ABLATION.items():
        mask = np.zeros(songs[0][0].shape[1], bool)
        for columns in given:
            mask[columns] = True
        for columns in taken:
            mask[columns] = False
        chosen = np.zeros((len(rows), 3))
        for number in range(PARTS):
            ranking = learn_ranking([(songs[k][0][:, mask], songs[k][1]) for k in np.flatnonzero(part != number)])
            judge = replace(blank({}), rank_mean=ranking[0], rank_spread=ranking[1], rank=ranking[2])
            for k in np.flatnonzero(part == number):
                chosen[k] = results[k][int(np.argmax(judge.score(songs[k][0][:, mask])))]
        f, cmlt, bars = chosen.mean(axis=0)
        print(f"{words:<42} {f:.3f}  {cmlt:.3f}  {bars:.3f}", flush=True)


def _print(scores: Floats, sets: NDArray[np.str_]) -> None:
    print("songs not trained on         songs      F   CMLt  downbeat F")
    for name in [*sorted(set(sets)), None]:
        chosen = scores[sets == name] if name else scores
        f, cmlt, bars = chosen.mean(axis=0)
        print(f"{name or 'all':<28} {len(chosen):>5}   {f:.3f}  {cmlt:.3f}  {bars:.3f}", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
