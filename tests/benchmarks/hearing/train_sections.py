"""Train the nets that say where sections begin (`eavesong.music.edges`), on songs whose sections are known.

    pip install torch
    python tests/benchmarks/hearing/train_sections.py OUT [--out FILE]

``OUT`` is where ``school.py`` made songs, and kept the bars of those with sections. One song in eight, with all that is
made of the same style, is left out, and it is told how well its boundaries are found: F within 3 s.
"""

from __future__ import annotations

import argparse
import re
import sys
from pathlib import Path
from typing import Any
from zlib import crc32

import numpy as np
from answers import true_grid
from known import Known
from numpy.typing import NDArray

from eavesong.music.bands import gather, powers_meter
from eavesong.music.barwise import Bars, bars_of
from eavesong.music.ear import ear_meters
from eavesong.music.edges import FARTHEST, FILE, HEARD, EdgeNets, edge_figures
from eavesong.music.parts import boundaries
from eavesong.music.sound import open_sound

Floats = NDArray[np.float64]
WIDTH, SEEDS, ROUNDS, BATCH = 32, (0, 1, 2), 25, 24
"""Units of a layer, one net for each seed, rounds through all songs, and songs of a step."""
RATE, DECAY, DROPPED, NOISE = 2e-3, 2e-2, 0.2, 0.3
"""Of AdamW, the share of a layer that is left out, and standard deviations that are added to each figure."""
CHORDLESS = 3
"""Of so many songs one is learned from without its chords, too."""
FEWEST = 8
"""Bars of a song."""
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
    bars, starts = _kept(path, chords)
    away = np.abs(bars.edges[:-1, None] - starts[1:])
    begins = np.zeros(len(bars), bool)
    if len(starts) > 1:
        begins[away.argmin(axis=0)[away.min(axis=0) < NEAR]] = True
    return edge_figures(bars)[1:], begins[1:]


def _kept(path: Path, chords: bool = True) -> tuple[Bars, Floats]:
    with np.load(path) as kept:
        tables = [kept[name].astype(np.float64) for name in ("sound", "attack", "chords")]
        edges, starts = kept["edges"], kept["starts"]
    return Bars(edges, tables[0], tables[1], tables[2] if chords else None), starts


def is_new(path: Path) -> bool:
    """Whether a song, with all that is made of its style, is left out of the lessons."""
    kind, _, name = path.stem.partition("-")
    return crc32((re.sub(r"_v\d+$", "", name) if kind.startswith("grooves") else path.stem).encode()) % 8 == 0


def net_of(figures: int) -> Any:
    """A net in torch, as `eavesong.music.edges.EdgeNets` has them."""
    import torch
    from torch import nn

    class Net(nn.Module):
        def __init__(self) -> None:
            super().__init__()
            self.first = nn.Linear(figures, WIDTH)
            self.turns = nn.ModuleList(nn.Conv1d(WIDTH, WIDTH, 3, padding=far, dilation=far) for far in HEARD)
            self.out, self.drop = nn.Linear(WIDTH, 1), nn.Dropout(DROPPED)

        def forward(self, rows: Any, there: Any) -> Any:
            layer = torch.relu(self.first(rows)).transpose(1, 2) * there[:, None]
            for turn in self.turns:
                layer = (layer + torch.relu(self.drop(turn(layer)))) * there[:, None]
            return self.out(layer.transpose(1, 2))[..., 0]

    return Net()


def learned(songs: list[tuple[Floats, NDArray[np.bool_]]]) -> EdgeNets:
    """Nets that learned from these songs."""
    every = np.concatenate([figures for figures, _ in songs])
    mean, spread = every.mean(axis=0), every.std(axis=0) + 1e-3
    scaled = [(np.clip((figures - mean) / spread, -FARTHEST, FARTHEST), begins) for figures, begins in songs]
    nets = [_weights(_learned(scaled, seed)) for seed in SEEDS]
    stacked = {name: np.stack([net[name] for net in nets]).astype(np.float32) for name in nets[0]}
    return EdgeNets(mean.astype(np.float32), spread.astype(np.float32), **stacked)


def _learned(songs: list[tuple[Floats, NDArray[np.bool_]]], seed: int) -> Any:
    import torch
    from torch.nn import functional

    torch.manual_seed(seed)
    rng, net = np.random.default_rng(seed), net_of(songs[0][0].shape[1])
    descent = torch.optim.AdamW(net.parameters(), RATE, weight_decay=DECAY)
    steps, step = ROUNDS * (len(songs) // BATCH), 0
    for _ in range(ROUNDS):
        order = rng.permutation(len(songs))
        for first in range(0, len(songs) - BATCH + 1, BATCH):
            rows, truth, there = _batch([songs[at] for at in order[first : first + BATCH]], rng)
            for group in descent.param_groups:
                group["lr"] = RATE * (0.5 + 0.5 * np.cos(np.pi * step / steps))
            heard, known = torch.from_numpy(rows), torch.from_numpy(there)
            told = net(heard + NOISE * torch.randn_like(heard), known)
            costs = functional.binary_cross_entropy_with_logits(
                told, 0.96 * torch.from_numpy(truth) + 0.02, reduction="none"
            )
            cost = (costs * known).sum() / known.sum()
            descent.zero_grad()
            cost.backward()
            descent.step()
            step += 1
    return net.eval()


def _batch(songs: list[tuple[Floats, NDArray[np.bool_]]], rng: np.random.Generator) -> tuple[NDArray[np.float32], ...]:
    """Figures, beginnings and where there are bars, of songs of which half begin later."""
    late = [int(rng.integers(0, max(1, len(one) // 3))) if rng.random() < 0.5 else 0 for one, _ in songs]
    size = max(len(one) - skipped for (one, _), skipped in zip(songs, late, strict=True))
    rows = np.zeros((len(songs), size, songs[0][0].shape[1]), np.float32)
    truth, there = (np.zeros((len(songs), size), np.float32) for _ in range(2))
    for at, ((one, begins), skipped) in enumerate(zip(songs, late, strict=True)):
        count = len(one) - skipped
        rows[at, :count], truth[at, :count], there[at, :count] = one[skipped:], begins[skipped:], 1.0
    return rows, truth, there


def _weights(net: Any) -> dict[str, Floats]:
    kept = {name: value.numpy() for name, value in net.state_dict().items()}
    turns = [kept[f"turns.{number}.weight"] for number in range(len(HEARD))]
    return {
        "first": kept["first.weight"].T, "first_bias": kept["first.bias"],
        "turns": np.stack([np.concatenate([turn[:, :, at].T for at in range(3)]) for turn in turns]),
        "turns_bias": np.stack([kept[f"turns.{number}.bias"] for number in range(len(HEARD))]),
        "out": kept["out.weight"][0], "out_bias": kept["out.bias"][0],
    }  # fmt: skip


def found_in(path: Path) -> tuple[float, float, float]:
    """Precision, recall and F within 3 s of the boundaries that the program finds in a kept song, by mir_eval."""
    import mir_eval

    bars, starts = _kept(path)
    edges = bars.edges
    inner = [edges[0], *edges[boundaries(bars)], edges[-1]]
    true = [edges[0], *(each for each in starts[1:] if edges[0] + 1 < each < edges[-1] - 1), edges[-1]]
    spans = [np.stack([times[:-1], times[1:]], axis=1) - edges[0] for times in (np.array(true), np.array(inner))]
    return mir_eval.segment.detection(*spans, window=3.0, trim=True)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("songs", type=Path)
    parser.add_argument("--out", type=Path, default=FILE)
    asked = parser.parse_args()
    paths = [path for path in sorted((asked.songs / "bars").glob("*.npz")) if len(_kept(path)[0]) >= FEWEST]
    known = [path for path in paths if not is_new(path)]
    lessons = [lesson(path) for path in known] + [lesson(path, chords=False) for path in known[::CHORDLESS]]
    nets = learned([(figures, begins) for figures, begins in lessons if np.isfinite(figures).all()])
    np.savez_compressed(asked.out, **{name: value.astype(np.float16) for name, value in vars(nets).items()})
    print(f"learned from {len(known)} songs")
    if asked.out == FILE:  # the program finds boundaries by what stands there
        told: dict[str, list[tuple[float, float, float]]] = {}
        for path in filter(is_new, paths):
            told.setdefault(re.sub(r"\d*-.*", "", path.stem), []).append(found_in(path))
        for kind, rows in told.items():
            precision, recall, f = np.mean(rows, axis=0)
            print(f"{kind}: {len(rows)} new songs, P {precision:.3f}, R {recall:.3f}, F {f:.3f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
