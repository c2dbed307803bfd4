"""Train the nets that say where sections begin (`eavesong.music.edges`), on songs whose sections are known.

    pip install scikit-learn
    python tests/benchmarks/hearing/train_sections.py OUT [--test]

``OUT`` is where ``school.py`` made songs, and kept the bars of those with sections. With ``--test`` a song in five is
left out, and it is told how well its boundaries are ranked: average precision over all bars.
"""

from __future__ import annotations

import argparse
import sys
import warnings
from pathlib import Path

import numpy as np
from answers import true_grid
from known import Known
from numpy.typing import NDArray

from eavesong.music.bands import gather, powers_meter
from eavesong.music.barwise import Bars, bars_of
from eavesong.music.ear import ear_meters
from eavesong.music.edges import FARTHEST, FILE, EdgeNets, edge_figures
from eavesong.music.sound import open_sound

Floats = NDArray[np.float64]
HIDDEN, SEEDS, ROUNDS, SHRUNK = 16, (1, 2, 3), 18, 1.0
"""Units of a net, one net for each seed, rounds through all bars, and how much weights are held small (L2)."""
CHORDLESS = 3
"""Of so many songs one is learned from without its chords, too."""
NEAR = 1.0
"""Seconds by which a bar may be away from where a section begins."""
NOT_MUSIC = ("silence", "end")


def keep_bars(song: Known, folder: Path) -> None:
    """Keep the bars of a song with its true sections, if it has any."""
    table = song.set / "truth" / f"{song.name}.sections.lab"
    if not table.exists():
        return
    rows = [line.split(None, 2) for line in table.read_text().splitlines() if line.strip()]
    starts = [float(start) for start, _, label in rows if label.strip() not in NOT_MUSIC]
    with open_sound(song.audio) as sound:
        powers, chroma = gather(sound, [powers_meter(sound.rate), ear_meters(sound.rate)[1]])
    bars = bars_of(powers, true_grid(song, powers.duration), chroma)
    tables = {name: getattr(bars, name).astype(np.float16) for name in ("sound", "attack", "chords")}
    folder.mkdir(exist_ok=True)
    np.savez(folder / f"{song.set.name}-{song.name}.npz", edges=bars.edges, starts=starts, **tables)


def lesson(path: Path, chords: bool = True) -> tuple[Floats, NDArray[np.bool_]]:
    """The figures (n, c) of the bars of a kept song but the first, and with which a section begins (n,)."""
    with np.load(path) as kept:
        tables = [kept[name].astype(np.float64) for name in ("sound", "attack", "chords")]
        edges, starts = kept["edges"], kept["starts"]
    bars = Bars(edges, tables[0], tables[1], tables[2] if chords else None)
    away = np.abs(edges[:-1, None] - starts[1:])
    begins = np.zeros(len(bars), bool)
    begins[away.argmin(axis=0)[away.min(axis=0) < NEAR]] = True
    return edge_figures(bars)[1:], begins[1:]


def learned(songs: list[tuple[Floats, NDArray[np.bool_]]]) -> EdgeNets:
    """Nets that learned from these songs."""
    from sklearn.neural_network import MLPClassifier

    figures, begins = (np.concatenate(part) for part in zip(*songs, strict=True))
    mean, spread = figures.mean(axis=0), figures.std(axis=0) + 1e-3
    scaled = np.clip((figures - mean) / spread, -FARTHEST, FARTHEST)
    nets = [
        MLPClassifier((HIDDEN,), alpha=SHRUNK, max_iter=ROUNDS, random_state=seed).fit(scaled, begins) for seed in SEEDS
    ]
    first, out = (np.stack([net.coefs_[layer] for net in nets]) for layer in (0, 1))
    first_bias, out_bias = (np.stack([net.intercepts_[layer] for net in nets]) for layer in (0, 1))
    weights = (mean, spread, first, first_bias, out[:, :, 0], out_bias[:, 0])
    return EdgeNets(*(weight.astype(np.float32) for weight in weights))


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("songs", type=Path)
    parser.add_argument("--out", type=Path, default=FILE)
    parser.add_argument("--test", action="store_true")
    asked = parser.parse_args()
    warnings.filterwarnings("ignore", module="sklearn")
    paths = sorted((asked.songs / "bars").glob("*.npz"))
    known = [path for at, path in enumerate(paths) if at % 5 or not asked.test]
    nets = learned([lesson(path) for path in known] + [lesson(path, chords=False) for path in known[::CHORDLESS]])
    if asked.test:
        from sklearn.metrics import average_precision_score

        for words, chords in (("with chords", True), ("without", False)):
            new = [lesson(path, chords) for path in paths[::5]]
            odds, begins = np.concatenate([nets.odds(one) for one, _ in new]), np.concatenate([two for _, two in new])
            print(f"{words}: average precision {average_precision_score(begins, odds):.3f}, {len(new)} songs")
        return 0
    np.savez_compressed(asked.out, **{name: value.astype(np.float16) for name, value in vars(nets).items()})
    print(f"learned from {len(known)} songs")
    return 0


if __name__ == "__main__":
    sys.exit(main())
