"""Train the nets that judge beats on songs that the pulse does not know, and judge songs that neither knows.

    pip install jax optax
    python tests/benchmarks/hearing/train.py hear OUT LESSONS --kept FOLDER --pulse FILE [--jobs 2]
    python tests/benchmarks/hearing/train.py net LESSONS FILE --seed 1 [--seconds 120] [--without "the tempo"]
    python tests/benchmarks/hearing/train.py judge OUT FILE --kept FOLDER --pulse FILE --nets FILE... [--jobs 2]

``OUT`` is where ``school.py`` made songs. Each net is trained by itself, so that several may be at once; ``judge``
writes how the candidates of the ranking's share of the songs are judged, which ``rerank.py`` learns from.
"""

from __future__ import annotations

import argparse
import gzip
import pickle
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, fields, replace
from functools import partial
from multiprocessing import get_context
from pathlib import Path

import numpy as np
from known import Known, ear_of, level_scores, songs_of
from learn import Lesson, learn_net
from numpy.typing import NDArray
from school import share_of

from eavesong.music.bands import FRAME_RATE
from eavesong.music.candidates import candidates, nearest
from eavesong.music.evidence import KINDS, beat_figures
from eavesong.music.explain import Judged, compared, explanations, judge
from eavesong.music.figures import Traces, traces
from eavesong.music.model import Model
from eavesong.music.novelty import novelty
from eavesong.music.pulse import find_pulse, read_net
from eavesong.music.refine import CENTRE

Floats = NDArray[np.float64]
TOLERANCE = 0.07
"""Seconds within which a beat is right, as in the F measure."""
FROM = 5.0
"""Seconds from which downbeats count, as in ``mir_eval.beat.trim_beats``."""
INTERVAL = 0.175
"""Share by which the interval may be wrong, as in CMLt."""


@dataclass(frozen=True, eq=False)
class Judgement:
    """How the candidates of a song are judged, with its truth."""

    name: str
    beats: Floats
    downbeats: Floats
    judged: list[Judged]
    levels: Floats
    """(c, 2): F and CMLt of each candidate."""
    figures: NDArray[np.float16]
    """(m, r): what describes each explanation, seven of each candidate."""
    bars: Floats
    """(m,): F of the downbeats of each."""


def heard(song: Known, kept: Path, pulse: Path) -> tuple[list[Floats], Traces] | None:
    """The candidates of a song, and what they are measured against; None where hardly anything begins."""
    ear = ear_of(song, kept)
    curves = novelty(ear)
    if not curves.any():
        return None
    found = find_pulse(ear, read_net(pulse))
    beats = [one for one in candidates(curves, found) if len(one) > 3]
    return (beats, traces(ear, curves, found)) if len(beats) > 2 else None


def keep_lessons(song: Known, kept: Path, pulse: Path, out: Path) -> None:
    """Write what is to be learned from a song's candidates."""
    known = heard(song, kept, pulse)
    if known is None:
        return
    found, trails = known
    figures, right, bar, worth = [], [], [], []
    for beats in found:
        seconds = beats / FRAME_RATE - CENTRE
        f, cmlt = level_scores(song.beats, np.maximum(seconds, 0))
        figures.append(beat_figures(beats, trails).astype(np.float16))
        truth = _truth(seconds, song)
        right.append(truth[0])
        bar.append(truth[1])
        worth.append(0.5 * f + 0.5 * cmlt)
    np.savez(
        out / f"{song.set.name}-{song.name}.npz", figures=np.concatenate(figures), right=np.concatenate(right),
        bar=np.concatenate(bar), worth=worth, counts=[len(beats) for beats in found],
    )  # fmt: skip


def kept_lessons(path: Path) -> list[Lesson]:
    """What `keep_lessons` wrote of a song."""
    with np.load(path) as kept:
        figures, right, bar = kept["figures"], kept["right"], kept["bar"]
        ends = np.cumsum(kept["counts"])
        return [
            Lesson(figures[end - count : end], right[end - count : end], bar[end - count : end], float(worth))
            for end, count, worth in zip(ends, kept["counts"], kept["worth"], strict=True)
        ]


def _truth(seconds: Floats, song: Known) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    true, downbeats = song.beats, song.downbeats
    if len(true) < 3 or len(downbeats) < 2:
        return np.zeros(len(seconds), np.float32), np.zeros(len(seconds), np.float32)
    near = nearest(seconds, true)
    steady = np.abs(np.gradient(seconds) / np.gradient(true)[near] - 1) < INTERVAL
    right = (np.abs(seconds - true[near]) < TOLERANCE) & steady
    bar = np.abs(seconds - downbeats[nearest(seconds, downbeats)]) < TOLERANCE
    return right.astype(np.float32), bar.astype(np.float32)


def judgement(song: Known, kept: Path, pulse: Path, nets: list[Path]) -> Judgement | None:
    """How the candidates of a song are judged."""
    known = heard(song, kept, pulse)
    if known is None:
        return None
    found, trails = known
    model = model_of(nets)
    return judgement_of(song, compared([judge(beats, trails, model) for beats in found]))


def judgement_of(song: Known, judged: list[Judged]) -> Judgement:
    """A song's truth beside what a ranking needs of how its candidates are judged, half as precise as it is."""
    none = np.zeros(0, np.float16)
    short = [
        replace(one, beats=one.beats.astype(np.float32), right=one.right.astype(np.float16), downbeat=none,
                pulsed=replace(one.pulsed, down=none))
        for one in judged
    ]  # fmt: skip
    downbeats = song.downbeats
    levels, figures, bars = [], [], []
    for one in judged:
        seconds = np.maximum(one.beats / FRAME_RATE - CENTRE, 0)
        levels.append(level_scores(song.beats, seconds))
        for explanation in explanations(one):
            figures.append(explanation.figures.astype(np.float16))
            starts = seconds[explanation.positions == 1]
            bars.append(in_common(downbeats[downbeats >= FROM], starts[starts >= FROM]))
    name = f"{song.set.name}/{song.name}"
    return Judgement(name, song.beats, downbeats, short, np.array(levels), np.array(figures), np.array(bars))


def in_common(true: Floats, estimated: Floats) -> float:
    """F of times that are all farther apart than twice the tolerance."""
    if len(true) < 2 or len(estimated) < 2:
        return 0.0
    found = (np.abs(true - estimated[nearest(true, estimated)]) <= TOLERANCE).sum()
    return float(2 * found / (len(true) + len(estimated)))


def model_of(nets: list[Path]) -> Model:
    """A model that judges beats by these nets and ranks nothing."""
    weights = [dict(np.load(path)) for path in nets]
    scale = {name: weights[0][name].astype(np.float32) for name in ("beat_mean", "beat_spread")}
    stacked = {name: np.stack([net[name] for net in weights]).astype(np.float32) for name in weights[0]} | scale
    none = dict.fromkeys((field.name for field in fields(Model)), np.zeros(0, np.float32))
    return Model(**(none | stacked))


def of_share(folder: Path, share: str) -> list[Known]:
    """The songs of a share among all that were made."""
    sets = sorted(path.parent for path in folder.glob("*/audio"))
    return [song for song in songs_of(sets) if share_of(song.set.name, song.name) == share]


def _hear(asked: argparse.Namespace) -> str:
    asked.to.mkdir(parents=True, exist_ok=True)
    songs = of_share(asked.source, "nets")
    with ProcessPoolExecutor(asked.jobs, get_context("spawn")) as pool:
        keep = partial(keep_lessons, kept=asked.kept, pulse=asked.pulse, out=asked.to)
        list(pool.map(keep, songs, chunksize=2))
    return f"{len(songs)} songs heard"


def _net(asked: argparse.Namespace) -> str:
    songs = [kept_lessons(path) for path in sorted(asked.source.glob("*.npz"))]
    given = np.ones(songs[0][0].figures.shape[1], bool)
    if asked.without:
        given[KINDS[asked.without]] = False
    known, new = songs, list[list[Lesson]]()
    if asked.test:
        known, new = [song for at, song in enumerate(songs) if at % 4], songs[::4]
    weights = learn_net(known, asked.seed, asked.seconds, given)
    np.savez_compressed(asked.to, **weights)
    costs = list(_costs(model_of([asked.to]), new))
    told = "".join(f", {words} {cost:.4f}" for words, cost in costs)
    return f"a net learned from {len(known)} songs{told}"


def _costs(model: Model, songs: list[list[Lesson]]) -> Iterator[tuple[str, float]]:
    """The cross entropy of beats, and of bars at right ones, in songs that the model does not know."""
    every = [one for song in songs for one in song]
    if not every:
        return
    odds = np.concatenate([model.judge(one.figures.astype(np.float32))[:, :2] for one in every])
    right, bar = (np.concatenate([getattr(one, what) for one in every]) for what in ("right", "bar"))
    cost = np.logaddexp(0, odds) - np.stack([right, bar], axis=1) * odds
    yield "a beat costs", float(cost[:, 0].mean())
    yield "a bar", float(cost[right > 0, 1].mean())


def _judge(asked: argparse.Namespace) -> str:
    songs = of_share(asked.source, "ranking") if not asked.all else songs_of([asked.source])
    with ProcessPoolExecutor(asked.jobs, get_context("spawn")) as pool:
        told = pool.map(partial(judgement, kept=asked.kept, pulse=asked.pulse, nets=asked.nets), songs, chunksize=2)
        judged = [one for one in told if one]
    for part in range(asked.parts):
        path = asked.to.with_suffix(f".{part}.gz") if asked.parts > 1 else asked.to
        with gzip.open(path, "wb", 5) as file:
            pickle.dump(judged[part :: asked.parts], file)
    return f"{len(judged)} songs judged"


def main(arguments: list[str]) -> None:
    options = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    options.add_argument("step", choices=("hear", "net", "judge"))
    options.add_argument("source", type=Path)
    options.add_argument("to", type=Path)
    options.add_argument("--kept", type=Path, help="Folder for what is heard.")
    options.add_argument("--pulse", type=Path)
    options.add_argument("--nets", type=Path, nargs="+")
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--seconds", type=float, default=1e9)
    options.add_argument("--without", choices=KINDS)
    options.add_argument("--test", action="store_true", help="leave a song in four out, and tell how it is judged")
    options.add_argument("--all", action="store_true", help="judge all songs of a set")
    options.add_argument("--parts", type=int, default=1)
    options.add_argument("--jobs", type=int, default=2)
    chosen = options.parse_args(arguments)
    begun = time.monotonic()
    told = {"hear": _hear, "net": _net, "judge": _judge}[chosen.step](chosen)
    print(f"{told}, {time.monotonic() - begun:.0f} s", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
