"""Learn what tells hits, stops and builds, from songs of ``stage.py``; writes ``music/accents.npz``.

    python train_accents.py SET... --kept FOLDER [--jobs 2] [--out FILE]

Logistic regression on the figures of what might be one (scikit-learn); the least is nearly where F is best.
"""

from __future__ import annotations

import argparse
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path

import mir_eval
import numpy as np
from answers import gaps, sketched, true_grid
from known import Known, songs_of
from struck import events_of, truth_path

from eavesong.music import BeatGrid, Signals, accents, swells
from eavesong.music.bands import gather, powers_meter
from eavesong.music.ear import ear_meters
from eavesong.music.parts import find_sections
from eavesong.music.signals import signals_of
from eavesong.music.sketch import Sketch
from eavesong.music.sound import open_sound

WITHIN = 0.1
NEARLY = {"hit": 0.0, "stop": 0.02, "build": 0.05}
"""By how much F may fall short of the best: other songs are less sharp than these, so rather more is believed."""


Example = tuple[np.ndarray, np.ndarray, int]
"""Of a song: figures (n, c) of what might be one, which of them are right (n,), and how many there are."""


def examples(folders: list[Path], kept: Path, jobs: int = 1) -> dict[str, list[Example]]:
    """What songs tell of hits, stops and builds."""
    songs = [song for song in songs_of(folders) if truth_path(song, "events").exists()]
    with ProcessPoolExecutor(jobs) as pool:
        found = list(pool.map(example, songs, [kept] * len(songs)))
    return {label: [one[label] for one in found] for label in NEARLY}


def example(song: Known, kept: Path) -> dict[str, Example]:
    """What one song tells."""
    with open_sound(song.audio) as sound:
        powers, chroma = gather(sound, [powers_meter(sound.rate), ear_meters(sound.rate)[1]])
    grid = true_grid(song, powers.duration)
    grid = replace(grid, sections=find_sections(powers, grid, chroma))
    return told(sketched(song, kept), signals_of(powers), grid, events_of(song))


def told(sketch: Sketch, signals: Signals, grid: BeatGrid, true: dict[str, np.ndarray]) -> dict[str, Example]:
    """What a song tells of each; hits at arrivals and stops where the band rests are neither right nor wrong."""
    none = np.zeros(0)
    times, figures = accents.hit_candidates(sketch, grid)
    spans, silences = accents.stop_candidates(sketch, grid)
    found = {}
    for label, moments, rows, where, either in (("hit", times, figures, "hit", true.get("arrival", none)),
                                                ("stop", spans[:, 1], silences, "stop-end", true.get("rest-end", none))
                                                ):  # fmt: skip
        reference, right = np.unique(true.get(where, none)), np.zeros(len(moments), bool)
        if len(reference) and len(moments):
            right[[b for _, b in mir_eval.util.match_events(reference, moments, WITHIN)]] = True
        clear = right | (gaps(moments, either) > 1.5 * WITHIN)
        found[label] = (rows[clear], right[clear], len(reference))
    bars, rows = swells.build_candidates(sketch, signals, grid)
    edges = swells.bar_edges(grid)
    pairs = list(zip(true.get("build", ()), true.get("build-end", ()), strict=True))
    placed = [tuple(np.abs(edges - at).argmin() for at in pair) for pair in pairs]
    found["build"] = (rows, np.array([tuple(each) in placed for each in bars.tolist()], bool), len(placed))
    return found


def share(odds: list[np.ndarray], songs: list[Example], least: float) -> float:
    """F over all songs."""
    said = sum(int((each > least).sum()) for each in odds)
    good = sum(int((right & (each > least)).sum()) for each, (_, right, _) in zip(odds, songs, strict=True))
    return 2 * good / max(said + sum(there for _, _, there in songs), 1)


def learned(found: dict[str, list[Example]]) -> dict[str, np.ndarray]:
    """What judges hits, stops and builds, as arrays by name."""
    from sklearn.linear_model import LogisticRegression

    entries = {}
    for label, songs in found.items():
        figures, right = np.vstack([rows for rows, _, _ in songs]), np.concatenate([each for _, each, _ in songs])
        mean, spread = figures.mean(axis=0), figures.std(axis=0) + 1e-9
        descent = LogisticRegression(C=0.03, max_iter=500, class_weight="balanced").fit(
            accents.scaled(figures, mean, spread), right
        )
        weights = descent.coef_[0]
        odds = [accents.scaled(rows, mean, spread) @ weights + descent.intercept_[0] for rows, _, _ in songs]
        shares = {least: share(odds, songs, least) for least in np.arange(-2, 4, 0.25)}
        best = max(shares.values())
        least = min(least for least, each in shares.items() if each > best - NEARLY[label] - 1e-9)
        print(f"{label}: {len(right)} candidates, {right.sum()} right of {sum(n for _, _, n in songs)}, F {best:.3f}")
        entries |= {f"{label}_mean": mean, f"{label}_spread": spread, f"{label}_weights": weights,
                    f"{label}_least": np.array(least - descent.intercept_[0])}  # fmt: skip
    return entries


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("sets", type=Path, nargs="+")
    parser.add_argument("--kept", type=Path, required=True)
    parser.add_argument("--out", type=Path, default=accents.FILE)
    parser.add_argument("--jobs", type=int, default=1)
    asked = parser.parse_args()
    np.savez_compressed(asked.out, **learned(examples(asked.sets, asked.kept, asked.jobs)))
    return 0


if __name__ == "__main__":
    sys.exit(main())
