"""Measure the survey against known truth: python tests/benchmarks/survey.py [--houses 200] [--only NAME …]

Synthetic houses, clicks off by 2 in 4,000 picture elements, tapes by 1 cm (standard deviations). The plain house is
13 m wide; cameras are 60 to 90 degrees wide, turned by up to 15, and as near as all of the house is in the picture;
other houses, and views of them, are made by chance. Prints one line for each bar that is kept.
"""

import argparse
import os
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.append(str(Path(__file__).parents[1]))

import numpy as np
from process import run

from eavesong.survey.adjust import adjust
from eavesong.survey.advice import MISREAD, REACH, advised
from eavesong.survey.camera import Lens
from eavesong.survey.doubt import smallest_seen, without_wrong
from eavesong.survey.known import Known
from eavesong.survey.solution import SURE, checking, solve
from survey_houses import (
    CHECKED,
    FOUR,
    SIX,
    House,
    camera,
    known_of,
    measures_of,
    plain_house,
    some_house,
    survey_text,
    truth_of,
)  # fmt: skip

Told = tuple[str, str]


def errors_of(known: Known, house: House) -> np.ndarray:
    """Metres (n,) by which each point is off."""
    return np.linalg.norm(solve(known).points - truth_of(house, known.points), axis=1)


def accuracy(houses: int, first: int) -> Iterator[Told]:
    """Median and 90 % of points on the plain house, for three ways of asking."""
    house = plain_house()
    for name, measures, exif, photos, bars in (
        ("six measures, no EXIF", SIX, False, 1, (3, 10)),
        ("four measures and EXIF", FOUR, True, 1, (4, 16)),
        ("two photos, four measures", FOUR, False, 2, (2.5, 8)),
    ):
        off = []
        for seed in range(max(houses // 4, 6)):
            rng = np.random.default_rng(first + seed)
            yaws = (rng.uniform(0, 15), -rng.uniform(0, 15))[:photos]
            yaws = yaws if rng.random() < 0.5 else tuple(-yaw for yaw in yaws)
            lenses = [camera(house, rng.uniform(60, 90), yaw, rng) for yaw in yaws]
            off.append(errors_of(known_of(house, lenses, measures, rng, exif=exif), house))
        median, most = (100 * np.percentile(np.concatenate(off), share) for share in (50, 90))
        yield name, f"median {median:.1f} cm (at most {bars[0]}), 90 % {most:.1f} cm (at most {bars[1]})"


def _some(seed: int) -> tuple[House, list[Lens], np.random.Generator]:
    """A house and a view by chance."""
    rng = np.random.default_rng(seed)
    while True:
        house = some_house(rng)
        try:
            return house, [camera(house, rng.uniform(40, 100), rng.uniform(-25, 25), rng)], rng
        except ValueError:
            continue


def honesty(houses: int, first: int) -> Iterator[Told]:
    """Whether error bars hold the truth."""
    held, beyond, inside = [], [], []
    for seed in range(houses):
        house, lenses, rng = _some(first + seed)
        known = known_of(house, lenses, measures_of(house, int(rng.integers(3, 8))), rng, exif=rng.random() < 0.5)
        solution = solve(known)
        off = solution.points - truth_of(house, known.points)
        errors = solution.standard_errors
        sought = errors > 2e-3  # what is known from the start, such as the front's own depth, is always right
        held.append(np.abs(off[sought]) < SURE * errors[sought])
        beyond.append(np.linalg.norm(off, axis=1) > 4 * np.linalg.norm(errors, axis=1))
        inside.append([np.linalg.norm(off[n]) <= solution.bar(n) for n in range(len(off)) if errors[n].max() > 2e-3])
    yield f"95 % bars hold the truth, {houses} houses", f"{100 * np.concatenate(held).mean():.1f} % (90 to 98)"
    yield "the same, radius of a point", f"{100 * np.concatenate(inside).mean():.1f} % (90 to 98)"
    yield "points off by more than four standard errors", f"{100 * np.concatenate(beyond).mean():.2f} % (at most 0.5)"


def _followed(known: Known, house: House, more: int, rng: np.random.Generator) -> Known:
    """With ``more`` measures, each as is advised after those before it: first what checks the others."""
    truth = truth_of(house, known.points)
    anchors = [known.points.index(name) for name in house.props if name in known.points]
    for _ in range(more):
        here = adjust(known)[0]
        told = checking(here, here.point_covariance, tuple(anchors))
        if told is None:
            measures = known.measure_ends, known.measure_give
            told = next(iter(advised(here.points, here.point_covariance, anchors, *measures, most=1)), None)
        if told is not None:
            ends = np.array([[told.start, told.end]])
            length = np.linalg.norm(truth[ends[:, 0]] - truth[ends[:, 1]], axis=1) + rng.normal(0, 0.01, 1)
            known = known.with_measures(ends, length, np.array([0.01]))
    return known


def wrong(houses: int, first: int) -> Iterator[Told]:
    """Whether a measure that is wrong by 20 cm is named."""
    house = plain_house()
    cases: tuple[tuple[str, list[tuple[str, str]], int, int], ...] = (
        ("six, as the manual has it", CHECKED, 0, 1), ("six, four of them and two as advised", FOUR, 2, 1),
        ("eight, four and four as advised", FOUR, 4, 1), ("six, two photos", SIX, 0, 2),
        ("six, a single one towards the street", SIX, 0, 1),
    )  # fmt: skip
    for name, measures, more, photos in cases:
        alone = pair = alarms = loose = 0
        tried = max(houses // 4, 8)
        for seed in range(tried):
            rng = np.random.default_rng(first + 1000 + seed)
            yaws = (rng.uniform(0, 20), -rng.uniform(0, 20))[:photos]
            lenses = [camera(house, rng.uniform(60, 90), yaw, rng) for yaw in yaws]
            known = _followed(known_of(house, lenses, measures, rng), house, more, rng)
            which = seed % len(known.lengths)
            lengths = known.lengths.copy()
            lengths[which] += 0.2 * rng.choice([-1, 1])
            right = adjust(known)[0]
            alarms += bool(without_wrong(known, right)[1])
            told = replace(known, lengths=lengths)
            _, doubts = without_wrong(told, adjust(told)[0])
            it, named = ("measures", which), [(doubt.kind, doubt.index) for doubt in doubts[:1]]
            alone += named == [it]
            pair += bool(doubts) and doubts[0].instead == (it,) and named[0][0] == "measures"
            loose += not doubts and bool(smallest_seen(right)[which] > MISREAD)
        also = f", {pair} as one of two to measure again" if pair else ""
        also += f"; {loose} more that little checks, as the report says" if loose else ""
        yield name, f"named in {alone + pair} of {tried} (9 of 10){also}; named though all is right: {alarms}"


def advice(houses: int, first: int) -> Iterator[Told]:
    """Whether the measure that is advised helps more than one by chance."""
    shrunk: dict[str, list[float]] = {"advised": [], "by chance": []}
    for seed in range(max(houses // 4, 8)):
        house, lenses, rng = _some(first + 5000 + seed)
        known = known_of(house, lenses, measures_of(house, 4), rng, exif=rng.random() < 0.5)
        truth, solution = truth_of(house, known.points), solve(known)
        anchors = [known.points.index(name) for name in house.props if name in known.points]
        told = advised(solution.points, solution.covariance, anchors, known.measure_ends, known.measure_give, most=1)
        if not told:
            continue
        low = np.flatnonzero(truth[:, 1] < REACH)
        chance = tuple(sorted(rng.choice(low, 2, replace=False).tolist()))
        before = np.sqrt((np.linalg.norm(solution.points - truth, axis=1)[anchors] ** 2).mean())
        for name, pair in (("advised", (told[0].start, told[0].end)), ("by chance", chance)):
            ends = np.array([pair])
            length = np.linalg.norm(truth[ends[:, 0]] - truth[ends[:, 1]], axis=1) + rng.normal(0, 0.01, 1)
            after = errors_of(known.with_measures(ends, length, np.array([0.01])), house)[anchors]
            shrunk[name].append(before - np.sqrt((after**2).mean()))
    means = {name: 100 * float(np.mean(each)) for name, each in shrunk.items()}
    yield ("error of the props (rms) shrinks by",
           f"{means['advised']:.1f} cm as advised, {means['by chance']:.1f} by chance (at most half)")  # fmt: skip


def speed(houses: int, first: int) -> Iterator[Told]:
    """Seconds for 60 points in two photos."""
    rng = np.random.default_rng(first + 3)
    house = plain_house()
    for number in range(36):
        x = -4.5 + 9 * (number % 12) / 11
        house.put(f"more {number}", (x, 0.4 + 0.7 * (number // 12), 0), 0)
    lenses = [camera(house, 75, yaw, rng) for yaw in (12, -12)]
    known = known_of(house, lenses, SIX, rng)
    assert len(known.points) == 60
    seconds, worked = [], []
    for _ in range(5):
        start, began = time.perf_counter(), time.process_time()
        solve(known)
        seconds.append(time.perf_counter() - start)
        worked.append(time.process_time() - began)
    yield "60 points, 2 photos: solving", f"{min(seconds):.2f} s (at most 1), {min(worked):.2f} s of processor"
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "house.survey.toml")
        path.write_text(survey_text(house, known, SIX, ["a.jpg", "b.jpg"], size=True))
        command = [sys.executable, "-m", "eavesong", "survey", str(path), "--out", str(Path(folder, "house.toml"))]
        quiet = [*command, "--quiet"]
        runs = [run(["sh", "-c", '"$@" || [ $? = 1 ]', "sh", *quiet]) for _ in range(3)]
    yield ("the whole process", f"{min(one.seconds for one in runs):.2f} s (at most 2), "
           f"{min(one.processor_seconds for one in runs):.2f} s of processor")  # fmt: skip


PARTS: dict[str, Callable[[int, int], Iterator[Told]]] = {
    "accuracy": accuracy, "honesty": honesty, "wrong": wrong, "advice": advice, "speed": speed,
}  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--houses", type=int, default=200)
    parser.add_argument("--first", type=int, default=0, help="what chance begins from: other houses and views")
    parser.add_argument("--only", nargs="*", choices=PARTS, default=list(PARTS))
    asked = parser.parse_args()
    for name in asked.only:
        for about, found in PARTS[name](asked.houses, asked.first):
            print(f"{about:<52} {found}", flush=True)


if __name__ == "__main__":
    main()
