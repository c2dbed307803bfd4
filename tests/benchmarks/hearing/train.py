"""Train what judges beats and ranks explanations on songs with known beats, and write the model that ships.

    pip install jax optax
    python tests/benchmarks/hearing/train.py SET... --kept FOLDER --pulses FOLDER [--out FILE] [--ablation]

Prints how well it does on songs it was not trained on (four parts, songs of one name in one part), which is also what
confidence is learned from. Some quarter of an hour for 2,000 songs on two cores. With ``--ablation`` also what is lost
when the nets or the ranking know less.
"""

from __future__ import annotations

import argparse
import re
import sys
import time
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, fields, replace
from functools import partial
from importlib.util import find_spec
from multiprocessing import get_context
from pathlib import Path
from typing import NamedTuple

import numpy as np
from known import Known, beat_scores, ear_of, scores_of, songs_of
from learn import Lesson, learn_beats, learn_ranking, learn_sureness
from numpy.typing import NDArray
from train_pulse import part_of

from eavesong.music.bands import FRAME_RATE
from eavesong.music.candidates import candidates, nearest
from eavesong.music.evidence import KINDS, beat_figures
from eavesong.music.explain import Explanation, Judged, Pulsed, compared, explanations, standing
from eavesong.music.figures import figures, traces
from eavesong.music.model import FILE, Model, write_model
from eavesong.music.novelty import novelty
from eavesong.music.pulse import find_pulse, read_net
from eavesong.music.refine import CENTRE

Floats = NDArray[np.float64]
PARTS = 4
TOLERANCE = 0.07
"""Seconds within which a beat is right, as in the F measure."""
INTERVAL = 0.175
"""Share by which the interval may be wrong, as in CMLt."""
JUDGED, FAVOUR, BARRED = slice(0, 6), slice(6, 7), slice(7, 12)
PULSED_BARS, PULSED, METRE, BESIDE = slice(12, 17), slice(17, 25), slice(25, 55), slice(55, 65)
"""Which of an explanation's figures are which."""
ABLATION: dict[str, list[slice]] = {
    "everything": [JUDGED, FAVOUR, BARRED, PULSED_BARS, PULSED, METRE, BESIDE],
    "without what speaks for it against others": [JUDGED, BARRED, PULSED_BARS, PULSED, METRE, BESIDE],
    "without judging beats one by one": [FAVOUR, BARRED, PULSED_BARS, PULSED, METRE, BESIDE],
    "without either of these": [BARRED, PULSED_BARS, PULSED, METRE, BESIDE],
    "without evidence of bars": [JUDGED, FAVOUR, PULSED, METRE, BESIDE],
    "without the pulse on beats": [JUDGED, FAVOUR, BARRED, PULSED_BARS, METRE, BESIDE],
    "without the pulse on beats and bars": [JUDGED, FAVOUR, BARRED, METRE, BESIDE],
    "without the metre, and the tempo that fits it": [JUDGED, FAVOUR, BARRED, PULSED_BARS, PULSED, BESIDE],
    "without how a candidate stands beside the others": [JUDGED, FAVOUR, BARRED, PULSED_BARS, PULSED, METRE],
}
"""What the ranking is given."""
NETS = (4, 5)
"""Seeds of the nets that ship; those that judge what they did not learn from have the number of their part."""
FROM = 5.0
"""Seconds from which downbeats count, as in ``mir_eval.beat.trim_beats``."""


@dataclass(frozen=True, eq=False)
class Candidate:
    """One candidate of one song, with what is true of it."""

    beats: Floats
    figures: Floats
    pulsed: Pulsed
    lesson: Lesson
    f: float
    cmlt: float


class Row(NamedTuple):
    """One explanation of a song, with what is true of it."""

    explanation: Explanation
    f: float
    cmlt: float
    bars: float
    """F of its downbeats."""


def hear(song: Known, kept: Path, pulses: Path) -> list[Candidate]:
    """The candidates of a song, with a pulse by the net that does not know it."""
    ear = ear_of(song, kept)
    curves = novelty(ear)
    if not curves.any():
        return []
    pulse = find_pulse(ear, read_net(pulses / f"pulse-{part_of(song.name)}.npz"))
    trails = traces(ear, curves, pulse)
    found = []
    for beats in candidates(curves, pulse):
        seconds = beats / FRAME_RATE - CENTRE
        f, cmlt, _ = beat_scores(song.beats, np.maximum(seconds, 0))
        judged = beat_figures(beats, trails).astype(np.float16)
        lesson = Lesson(judged, *_truth(seconds, song), worth=0.5 * f + 0.5 * cmlt)
        found.append(Candidate(beats, figures(beats, trails), Pulsed.of(beats, pulse), lesson, f, cmlt))
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


def lessons(heard: Iterable[list[Candidate]]) -> list[list[Lesson]]:
    """What is to be learned from each song."""
    return [[one.lesson for one in song] for song in heard]


def blank(weights: dict[str, NDArray[np.float32]]) -> Model:
    """A model that judges beats with these weights and ranks nothing."""
    none = dict.fromkeys((field.name for field in fields(Model)), np.zeros(0, np.float32))
    return Model(**(none | weights))


def explained(heard: list[Candidate], downbeats: Floats, model: Model) -> list[Row]:
    """Every explanation of a song's candidates, with what is true of it."""
    rows = []
    odds = [model.judge(one.lesson.figures.astype(np.float32)) for one in heard]
    judged = [Judged.of(one.beats, told, one.figures, one.pulsed) for one, told in zip(heard, odds, strict=True)]
    for one, known in zip(heard, compared(judged), strict=True):
        for explanation in explanations(known):
            bars = np.maximum(one.beats[explanation.positions == 1] / FRAME_RATE - CENTRE, 0)
            rows.append(Row(explanation, one.f, one.cmlt, _in_common(downbeats[downbeats >= FROM], bars[bars >= FROM])))
    return rows


def _in_common(true: Floats, estimated: Floats) -> float:
    """F of times that are all farther apart than twice the tolerance."""
    if len(true) < 2 or len(estimated) < 2:
        return 0.0
    found = (np.abs(true - estimated[nearest(true, estimated)]) <= TOLERANCE).sum()
    return float(2 * found / (len(true) + len(estimated)))


def worth(rows: list[Row]) -> Floats:
    """How good each explanation is, 0 to 1."""
    return np.array([0.35 * row.f + 0.35 * row.cmlt + 0.3 * row.bars for row in rows])


def table_of(rows: list[Row]) -> Floats:
    """The figures of each explanation."""
    return np.array([row.explanation.figures for row in rows])


def pairs(songs: list[list[Row]]) -> list[tuple[Floats, Floats]]:
    """Figures and worth of each song's explanations."""
    return [(table_of(rows), worth(rows)) for rows in songs]


def main(arguments: list[str]) -> None:
    options = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    options.add_argument("sets", nargs="+", type=Path)
    options.add_argument("--kept", type=Path, required=True, help="Folder for what is heard.")
    options.add_argument("--pulses", type=Path, required=True, help="Folder of pulse-0.npz and pulse-1.npz.")
    options.add_argument("--out", type=Path, default=FILE)
    options.add_argument("--jobs", type=int, default=2)
    options.add_argument("--apart", type=Path, help="A set whose scores, by the manifests, are not to be learned from.")
    options.add_argument("--ablation", action="store_true")
    chosen = options.parse_args(arguments)
    if missing := [name for name in ("jax", "optax") if not find_spec(name)]:
        options.error(f"needs what eavesong itself does not: pip install {' '.join(missing)}")
    if chosen.apart and not scores_of(chosen.apart):
        options.error(f"--apart {chosen.apart}: no manifest.json there that names scores; corpus.py writes one")
    begun = time.monotonic()
    songs = songs_of(chosen.sets, [chosen.apart] if chosen.apart else [])
    with ProcessPoolExecutor(chosen.jobs, get_context("spawn")) as workers:
        heard = list(workers.map(partial(hear, kept=chosen.kept, pulses=chosen.pulses), songs, chunksize=4))
        usable = [index for index, found in enumerate(heard) if len(found) > 2]
        songs, heard = [songs[index] for index in usable], [heard[index] for index in usable]
        print(f"{len(songs)} songs heard, {time.monotonic() - begun:.0f} s", flush=True)
        model, rows, part = train(songs, heard, workers)
    write_model(chosen.out, model)
    size = chosen.out.stat().st_size / 1000
    print(f"wrote {chosen.out.name}, {size:.0f} kB, {time.monotonic() - begun:.0f} s", flush=True)
    if chosen.ablation:
        _print_ablation(rows, part)
        _print_lessons(heard, part)


def train(
    songs: list[Known], heard: list[list[Candidate]], workers: ProcessPoolExecutor
) -> tuple[Model, list[list[Row]], NDArray[np.int64]]:
    """The model from all songs, and what it ranked by: every song's explanations, and the part each song is of.

    What ranks and weighs was learned from beats judged by nets that knew none of them.
    """
    stems = [re.sub(r"_v\d+$", "", song.name) for song in songs]
    order = {stem: place for place, stem in enumerate(np.random.default_rng(0).permutation(sorted(set(stems))))}
    part = np.array([order[stem] % PARTS for stem in stems])
    rows: list[list[Row]] = [[] for _ in songs]
    for number in range(PARTS):
        known = [found for found, own in zip(heard, part, strict=True) if own != number]
        net = blank(learn_beats(lessons(known), (number,)))
        new = np.flatnonzero(part == number)
        told = workers.map(
            partial(explained, model=net), [heard[k] for k in new], [songs[k].downbeats for k in new], chunksize=4
        )
        for index, found in zip(new, told, strict=True):
            rows[index] = found
    standings, shares, sets = [], [], []
    for number in range(PARTS):
        ranking = learn_ranking(pairs([rows[index] for index in np.flatnonzero(part != number)]))
        judge = replace(blank({}), rank_mean=ranking[0], rank_spread=ranking[1], rank=ranking[2])
        for index in np.flatnonzero(part == number):
            scores = judge.score(table_of(rows[index]))
            scored = [
                replace(row.explanation, score=float(score)) for row, score in zip(rows[index], scores, strict=True)
            ]
            best = int(np.argmax(scores))
            standings.append(standing(scored[best], scored))
            shares.append(rows[index][best][1:])
            sets.append(songs[index].set.name)
    _print(np.array(shares), np.array(sets))
    mean, spread, rank = learn_ranking(pairs(rows))
    sureness = learn_sureness(np.array(standings), np.array(shares)[:, 0])
    weights = learn_beats(lessons(heard), NETS)
    return replace(blank(weights), rank_mean=mean, rank_spread=spread, rank=rank, sureness=sureness), rows, part


def _print_lessons(heard: list[list[Candidate]], part: NDArray[np.int64]) -> None:
    """How well the beats of one part are judged by nets that learned from the others, and see less."""
    known = lessons(found for found, own in zip(heard, part, strict=True) if own)
    new = lessons(found for found, own in zip(heard, part, strict=True) if not own)
    unknown = [one for song in new for one in song]
    count = known[0][0].figures.shape[1]
    ways: list[tuple[str, list[slice], bool]] = [("everything", [], True), ("a beat without its neighbours", [], False)]
    ways += [(f"without {words}", [columns], True) for words, columns in KINDS.items()]
    print("nets that see                                  cost a beat   a bar")
    for words, taken, neighbours in ways:
        given = np.ones(count, bool)
        for columns in taken:
            given[columns] = False
        net = blank(learn_beats(known, (0,), given, neighbours))
        odds = np.concatenate([net.judge(one.figures.astype(np.float32))[:, :2] for one in unknown])
        right, bar = (np.concatenate([getattr(one, what) for one in unknown]) for what in ("right", "bar"))
        cost = np.logaddexp(0, odds) - np.stack([right, bar], axis=1) * odds
        print(f"{words:<46} {cost[:, 0].mean():.3f}        {cost[right > 0, 1].mean():.3f}", flush=True)


def _print_ablation(rows: list[list[Row]], part: NDArray[np.int64]) -> None:
    """How well songs not trained on are ranked when the ranking is given less."""
    best = np.mean([max(row.f for row in song) for song in rows])
    print(f"the best candidate of every song: F {best:.3f}")
    songs = pairs(rows)
    results = [np.array([row[1:] for row in song]) for song in rows]
    for words, given in ABLATION.items():
        mask = np.zeros(songs[0][0].shape[1], bool)
        for columns in given:
            mask[columns] = True
        chosen = np.zeros((len(rows), 3))
        for number in range(PARTS):
            ranking = learn_ranking([(songs[k][0][:, mask], songs[k][1]) for k in np.flatnonzero(part != number)])
            judge = replace(blank({}), rank_mean=ranking[0], rank_spread=ranking[1], rank=ranking[2])
            for k in np.flatnonzero(part == number):
                chosen[k] = results[k][int(np.argmax(judge.score(songs[k][0][:, mask])))]
        f, cmlt, bars = chosen.mean(axis=0)
        print(f"{words:<46} {f:.3f}  {cmlt:.3f}  {bars:.3f}", flush=True)


def _print(scores: Floats, sets: NDArray[np.str_]) -> None:
    print("songs not trained on         songs      F   CMLt  downbeat F")
    for name in [*sorted(set(sets)), None]:
        chosen = scores[sets == name] if name else scores
        f, cmlt, bars = chosen.mean(axis=0)
        print(f"{name or 'all':<28} {len(chosen):>5}   {f:.3f}  {cmlt:.3f}  {bars:.3f}", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
