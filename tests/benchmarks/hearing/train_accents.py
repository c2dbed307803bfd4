"""Learn what tells hits, stops and builds, from songs of ``stage.py``; writes ``music/accents.npz``.

    python train_accents.py SET... --kept FOLDER

Logistic regression on the figures of what might be one (scikit-learn); the least is nearly where F is best.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from pathlib import Path

import mir_eval
import numpy as np
from answers import sketched, true_grid
from known import songs_of
from sklearn.linear_model import LogisticRegression
from struck import events_of, truth_path

from eavesong.music import accents, swells
from eavesong.music.bands import gather, powers_meter
from eavesong.music.ear import ear_meters
from eavesong.music.parts import find_sections
from eavesong.music.signals import signals_of
from eavesong.music.sound import open_sound

WITHIN = 0.1
NEARLY = {"hit": 0.0, "stop": 0.05, "build": 0.05}
"""By how much F may fall short of the best: other songs are less sharp than these, so rather more is believed."""


def examples(folders: list[Path], kept: Path) -> dict[str, list[tuple[np.ndarray, np.ndarray, int]]]:
    """For hits and stops, of each song: figures (n, c), which of them are right (n,), and how many there are."""
    found: dict[str, list[tuple[np.ndarray, np.ndarray, int]]] = {"hit": [], "stop": [], "build": []}
    for song in songs_of(folders):
        if not truth_path(song, "events").exists():
            continue
        with open_sound(song.audio) as sound:
            powers, chroma = gather(sound, [powers_meter(sound.rate), ear_meters(sound.rate)[1]])
        sketch, grid, true = sketched(song, kept), true_grid(song, powers.duration), events_of(song)
        grid = replace(grid, sections=find_sections(powers, grid, chroma))
        times, figures = accents.hit_candidates(sketch, grid)
        arrived = np.abs(times[:, None] - true.get("arrival", np.full(1, -9.0))).min(axis=1, initial=9.0) < 0.15
        spans, silences = accents.stop_candidates(sketch, grid)
        for label, moments, rows, where in (("hit", times[~arrived], figures[~arrived], "hit"),
                                            ("stop", spans[:, 1], silences, "stop-end")):  # fmt: skip
            reference, right = np.unique(true.get(where, np.zeros(0))), np.zeros(len(moments), bool)
            if len(reference) and len(moments):
                right[[b for _, b in mir_eval.util.match_events(reference, moments, WITHIN)]] = True
            found[label].append((rows, right, len(reference)))
        bars, rows = swells.build_candidates(sketch, signals_of(powers), grid)
        edges = swells.bar_edges(grid)
        pairs = list(zip(true.get("build", ()), true.get("build-end", ()), strict=True))
        placed = [tuple(np.abs(edges - at).argmin() for at in pair) for pair in pairs]
        right = np.array([tuple(each) in placed for each in bars.tolist()], bool)
        found["build"].append((rows, right, len(placed)))
    return found


def share(odds: list[np.ndarray], songs: list[tuple[np.ndarray, np.ndarray, int]], least: float) -> float:
    """F over all songs."""
    said = sum(int((each > least).sum()) for each in odds)
    good = sum(int((right & (each > least)).sum()) for each, (_, right, _) in zip(odds, songs, strict=True))
    return 2 * good / max(said + sum(there for _, _, there in songs), 1)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("sets", type=Path, nargs="+")
    parser.add_argument("--kept", type=Path, required=True)
    asked = parser.parse_args()
    entries = {}
    for label, songs in examples(asked.sets, asked.kept).items():
        figures, right = np.vstack([rows for rows, _, _ in songs]), np.concatenate([each for _, each, _ in songs])
        mean, spread = figures.mean(axis=0), figures.std(axis=0) + 1e-9
        found = LogisticRegression(C=0.03, max_iter=500, class_weight="balanced").fit(
            accents.scaled(figures, mean, spread), right
        )
        weights = found.coef_[0]
        odds = [accents.scaled(rows, mean, spread) @ weights + found.intercept_[0] for rows, _, _ in songs]
        shares = {least: share(odds, songs, least) for least in np.arange(-2, 4, 0.25)}
        best = max(shares.values())
        least = min(least for least, each in shares.items() if each > best - NEARLY[label] - 1e-9)
        print(f"{label}: {len(right)} candidates, {right.sum()} right of {sum(n for _, _, n in songs)}, F {best:.3f}")
        entries |= {f"{label}_mean": mean, f"{label}_spread": spread, f"{label}_weights": weights,
                    f"{label}_least": np.array(least - found.intercept_[0])}  # fmt: skip
    np.savez_compressed(accents.FILE, **entries)
    return 0


if __name__ == "__main__":
    sys.exit(main())
