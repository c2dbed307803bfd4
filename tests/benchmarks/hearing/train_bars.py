"""Train the nets that tell bars along a row of beats, on songs whose beats are known.

    pip install torch
    python tests/benchmarks/hearing/train_bars.py hear OUT LESSONS --kept FOLDER [--jobs 2]
    python tests/benchmarks/hearing/train_bars.py net LESSONS FILE --seed 1 [--seconds 230] [--noise 0.25] …
    python tests/benchmarks/hearing/train_bars.py join FILE... --out music/barlines.npz

``OUT`` is where ``school.py`` made songs, with what was heard of them in ``--kept``. One song in eight is left out of a
net's lessons with all that is made of it, and tells how well the net hears songs that it does not know. Each net is
trained by itself, so that several may be at once.
"""

from __future__ import annotations

import argparse
import re
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from itertools import pairwise
from multiprocessing import get_context
from pathlib import Path
from typing import Any, NamedTuple
from zlib import crc32

import numpy as np
from known import Known, ear_of, songs_of
from numpy.typing import NDArray

from eavesong.music.bands import FRAME_RATE
from eavesong.music.barlines import FARTHEST, LAGS, QUARTERS, REACHES, SPAN, WIDE, Sounds, beat_sounds

WIDTH, BATCH = 96, 32
RATE, DECAY, WARM = 2e-3, 2e-2, 0.05
SHORTEST = 60
"""Beats of the shortest stretch that is learned from; `SPAN` of the longest."""
FEWEST = 16
"""Beats of a song."""
NEAR = 0.05
"""Seconds within which a beat begins a bar."""
LATE, LOOSE = 0.012, 0.006
"""Seconds by which all beats of a song, and each of them, are wrong: those that are heard are, too."""
WORTH = {"arr": 1.4, "tunes": 1.4, "grooves": 1.2, "loops": 0.5, "machines": 0.5}
"""How much songs of a kind count, which are 1 otherwise: real tunes more, plain patterns less."""
SUNG, NOTES = QUARTERS * WIDE, 24
GROUPS = np.cumsum([0, SUNG, SUNG, *4 * [2 * len(LAGS)], NOTES])
"""Where each kind of figures begins: levels, rises, likeness of four kinds, notes."""


class Lessons(NamedTuple):
    """All beats of all songs in a row."""

    figures: NDArray[np.float16]
    starts: NDArray[np.bool_]
    counts: NDArray[np.int64]
    names: list[str]


def hear(song: Known, kept: Path) -> tuple[str, NDArray[np.float16], NDArray[np.bool_]] | None:
    """What describes the true beats of a song, and which of them begin bars; None where it has few."""
    beats, downbeats = song.beats, song.downbeats
    if len(beats) < FEWEST or not len(downbeats):
        return None
    rng = np.random.default_rng(crc32(song.name.encode()))
    told = np.maximum(beats + LATE * rng.normal() + LOOSE * rng.normal(size=len(beats)), 0.0)
    figures = beat_sounds(told * FRAME_RATE, Sounds.of(ear_of(song, kept)))
    starts = np.abs(beats[:, None] - downbeats[None]).min(axis=1) < NEAR
    return f"{song.set.name}/{song.name}", figures.astype(np.float16), starts


def kind_of(name: str) -> str:
    """What a song was made by: ``arr``."""
    return name.partition("/")[0].rstrip("0123456789")


def is_new(name: str) -> bool:
    """Whether a song, with all that is made of it, is left out of the lessons."""
    alone = kind_of(name) not in ("arr", "tunes", "grooves")
    made_of = name if alone else re.sub(r"_[sv]\d+$", "", name.partition("/")[2])
    return crc32(made_of.encode()) % 8 == 0


def net_of(drop: float) -> Any:
    """A net in torch, as `eavesong.music.barlines.BarNets` has them."""
    import torch
    from torch import nn

    class Net(nn.Module):
        def __init__(self) -> None:
            super().__init__()
            self.first = nn.Linear(int(GROUPS[-1]), WIDTH)
            self.turns = nn.ModuleList(nn.Conv1d(WIDTH, WIDTH, 3, padding=far, dilation=far) for far in REACHES)
            self.out, self.drop = nn.Linear(2 * WIDTH, 1), nn.Dropout(drop)

        def forward(self, rows: Any, there: Any) -> Any:
            layer = torch.relu(self.first(rows)).transpose(1, 2) * there[:, None]
            for turn in self.turns:
                layer = (layer + torch.relu(self.drop(turn(layer)))) * there[:, None]
            around = (layer.sum(2) / there.sum(1)[:, None])[:, :, None].expand_as(layer)
            return self.out(torch.cat([layer, around], 1).transpose(1, 2))[..., 0]

    return Net()


def learn(lessons: Lessons, asked: argparse.Namespace) -> dict[str, NDArray[Any]]:
    """The weights of a net after so many seconds."""
    import torch
    from torch.nn import functional

    where = "cuda" if torch.cuda.is_available() else "cpu"
    torch.manual_seed(asked.seed)
    chance = torch.Generator(device=where).manual_seed(asked.seed)
    rows = torch.from_numpy(lessons.figures).to(where).float()
    truth = torch.from_numpy(lessons.starts).to(where).float()
    heard = slice(0, int(GROUPS[-2]))
    mean, spread = torch.zeros(rows.shape[1], device=where), torch.ones(rows.shape[1], device=where)
    mean[heard], spread[heard] = rows[:, heard].mean(0), rows[:, heard].std(0) + 1e-3
    rows = ((rows - mean) / spread).clamp(-FARTHEST, FARTHEST)
    if asked.without_notes:
        rows[:, GROUPS[-2] :] = 0
    known = np.array([not is_new(name) for name in lessons.names])
    worth = np.array([WORTH.get(kind_of(name), 1.0) for name in lessons.names]) * np.minimum(lessons.counts, SPAN)
    odds = torch.tensor(worth * known, device=where)
    counts = torch.tensor(lessons.counts, device=where)
    begins = torch.cumsum(counts, 0) - counts
    net = net_of(asked.drop).to(where)
    descent = torch.optim.AdamW(net.parameters(), RATE, weight_decay=DECAY)
    place = torch.arange(SPAN, device=where)
    keys = (place[None, :12] - place[:12, None]) % 12
    begun, step = time.monotonic(), 0

    def random(*shape: int) -> Any:
        return torch.randn(*shape, device=where, generator=chance)

    while (took := (time.monotonic() - begun) / asked.seconds) < 1:
        for group in descent.param_groups:
            group["lr"] = RATE * min(1.0, took / WARM) * (0.5 + 0.5 * np.cos(np.pi * took))
        drawn = torch.multinomial(odds, BATCH, replacement=True, generator=chance)
        length = torch.minimum(
            counts[drawn], torch.randint(SHORTEST, SPAN + 1, (BATCH,), device=where, generator=chance)
        )
        first = (
            begins[drawn] + (torch.rand(BATCH, device=where, generator=chance) * (counts[drawn] - length + 1)).long()
        )
        at = first[:, None] + torch.minimum(place[None], length[:, None] - 1)
        there = (place[None] < length[:, None]).float()
        batch = rows[at]
        notes = batch[..., GROUPS[-2] :].view(BATCH, SPAN, 2, 12)  # in another key each time
        turned = keys[torch.randint(12, (BATCH,), device=where, generator=chance)][:, None, None].expand_as(notes)
        batch[..., GROUPS[-2] :] = torch.gather(notes, 3, turned).reshape(BATCH, SPAN, NOTES)
        batch[..., :SUNG] += 0.5 * random(BATCH, 1, SUNG)  # through another equaliser
        batch[..., SUNG : 2 * SUNG] *= torch.exp(0.2 * random(BATCH, 1, SUNG))
        hidden = torch.rand(BATCH, len(GROUPS) - 1, device=where, generator=chance) < asked.hidden
        for number, (start, end) in enumerate(pairwise(GROUPS)):
            batch[..., start:end] *= ~hidden[:, number, None, None]
        batch = (batch + asked.noise * random(*batch.shape)) * there[..., None]
        net.train()
        costs = functional.binary_cross_entropy_with_logits(
            net(batch, there), 0.96 * truth[at] + 0.01, reduction="none"
        )
        cost = (costs * there).sum() / there.sum()
        descent.zero_grad()
        cost.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 1.0)
        descent.step()
        step += 1
    net.eval()
    right: dict[str, list[bool]] = {}
    with torch.no_grad():
        for number in np.flatnonzero(~known):
            part = slice(int(begins[number]), int(begins[number] + counts[number]))
            told = net(rows[None, part], torch.ones(1, int(counts[number]), device=where))[0].cpu().numpy()
            right.setdefault(kind_of(lessons.names[number]), []).append(_phase_right(told, lessons.starts[part]))
    print(f"{step} steps; bars begin where they do in", {kind: f"{np.mean(each):.2f}" for kind, each in right.items()})
    return weights_of(net, mean.cpu().numpy(), spread.cpu().numpy())


def _phase_right(told: NDArray[Any], starts: NDArray[np.bool_]) -> bool:
    """Whether bars of the usual length begin on the beat on which most do."""
    lengths = np.diff(np.flatnonzero(starts))
    size = int(np.bincount(lengths).argmax()) if len(lengths) else 4
    best = [int(np.argmax([each[first::size].mean() for first in range(size)])) for each in (told, starts)]
    return best[0] == best[1]


def weights_of(net: Any, mean: NDArray[Any], spread: NDArray[Any]) -> dict[str, NDArray[Any]]:
    """A net's weights by the names of `eavesong.music.barlines.BarNets`."""
    kept = {name: value.cpu().numpy() for name, value in net.state_dict().items()}
    turns = [kept[f"turns.{number}.weight"] for number in range(len(REACHES))]
    return {
        "mean": mean, "spread": spread, "first": kept["first.weight"].T, "first_bias": kept["first.bias"],
        "turns": np.stack([np.concatenate([turn[:, :, at].T for at in range(3)]) for turn in turns]),
        "turns_bias": np.stack([kept[f"turns.{number}.bias"] for number in range(len(REACHES))]),
        "out": kept["out.weight"][0], "out_bias": kept["out.bias"][0],
    }  # fmt: skip


def join(nets: list[dict[str, NDArray[Any]]]) -> dict[str, NDArray[np.float16]]:
    """Nets as one file. Those that learned from other lessons than the first are told how its figures are scaled."""
    mean, spread = nets[0]["mean"].astype(np.float64), nets[0]["spread"].astype(np.float64)
    scaled = []
    for net in nets:
        first, own = net["first"].astype(np.float64), net["spread"].astype(np.float64)
        bias = net["first_bias"] + ((mean - net["mean"]) / own) @ first
        scaled.append(net | {"first": first * (spread / own)[:, None], "first_bias": bias})
    stacked = {name: np.stack([net[name] for net in scaled]) for name in nets[0] if name not in ("mean", "spread")}
    return {name: value.astype(np.float16) for name, value in ({"mean": mean, "spread": spread} | stacked).items()}


def nets_in(path: Path) -> list[dict[str, NDArray[Any]]]:
    """The nets of a file, be they one or joined."""
    with np.load(path) as kept:
        one = dict(kept)
    if one["first"].ndim == 2:
        return [one]
    apart = {name: value for name, value in one.items() if name not in ("mean", "spread")}
    return [one | {name: value[at] for name, value in apart.items()} for at in range(len(one["first"]))]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    steps = parser.add_subparsers(dest="step", required=True)
    hearing = steps.add_parser("hear")
    hearing.add_argument("source", type=Path)
    hearing.add_argument("to", type=Path)
    hearing.add_argument("--kept", type=Path, required=True)
    hearing.add_argument("--jobs", type=int, default=2)
    learning = steps.add_parser("net")
    learning.add_argument("source", type=Path)
    learning.add_argument("to", type=Path)
    learning.add_argument("--seed", type=int, default=1)
    learning.add_argument("--seconds", type=float, default=230)
    learning.add_argument("--drop", type=float, default=0.2, help="share of a layer that is left out")
    learning.add_argument("--hidden", type=float, default=0.15, help="share of stretches without one kind of figures")
    learning.add_argument("--noise", type=float, default=0.25, help="standard deviations added to each figure")
    learning.add_argument("--without-notes", action="store_true")
    joining = steps.add_parser("join")
    joining.add_argument("nets", type=Path, nargs="+")
    joining.add_argument("--out", type=Path, required=True)
    joining.add_argument(
        "--some", type=int, nargs="*", help="numbers of those to take, from 0 on, counted over all files"
    )
    asked = parser.parse_args()
    if asked.step == "hear":
        songs = songs_of(sorted(path.parent for path in asked.source.glob("*/audio")))
        with ProcessPoolExecutor(asked.jobs, get_context("spawn")) as pool:
            found = [each for each in pool.map(partial(hear, kept=asked.kept), songs, chunksize=4) if each]
        if not found:
            parser.error(f"there is no song in {asked.source}")
        names, figures, starts = zip(*found, strict=True)
        counts = [len(each) for each in starts]
        np.savez(asked.to, figures=np.concatenate(figures), starts=np.concatenate(starts), counts=counts, names=names)
        print(f"{len(names)} songs, {sum(counts)} beats")
    elif asked.step == "net":
        with np.load(asked.source) as kept:
            lessons = Lessons(kept["figures"], kept["starts"], kept["counts"], [str(name) for name in kept["names"]])
        np.savez_compressed(asked.to, **learn(lessons, asked))
    else:
        nets = [net for path in asked.nets for net in nets_in(path)]
        np.savez_compressed(asked.out, **join([nets[at] for at in asked.some] if asked.some else nets))
    return 0


if __name__ == "__main__":
    sys.exit(main())
