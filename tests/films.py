"""Invented films that flash, flicker in parts, or hardly change: what the eyes are tried on."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from eavesong.layout import Layout, layout_from_points

Bytes = NDArray[np.uint8]

KINDS = ("jumps", "reds", "dim reds", "drift", "strobe", "in turn", "in turn, in red", "bright", "bursts")


def screen(columns: int = 14, rows: int = 6, lone: int = 50) -> Layout:
    """A screen of 4.4 m by 2 m, then a row of lone pixels, 15 m long, so that the display is more than the screen."""
    x, y = np.meshgrid((np.arange(columns) + 0.5) * 4.4 / columns, (np.arange(rows) + 0.5) * 2.0 / rows)
    wall = np.stack([x.ravel(), y.ravel(), np.zeros(x.size)], axis=1)
    row = np.stack([6 + np.arange(lone) * 15 / lone, np.full(lone, 2.0), np.zeros(lone)], axis=1)
    return layout_from_points({"screen": wall, "row": row}, title="Screen", frame=((0, 0, 0), (21, 2, 1)))


def film(random: np.random.Generator, kind: str, pixels: int, frames: int, rate: float = 40.0) -> Bytes:
    """(f, 3 n) of one of KINDS."""
    made = _MAKERS[kind](random, frames, pixels, rate)
    return np.ascontiguousarray(made, np.uint8).reshape(frames, -1)


def jumps(random: np.random.Generator, frames: int, pixels: int, palette: NDArray[np.int64]) -> NDArray[np.int64]:
    """Pixels that jump at random to another of their colours, palette (n, k, 3)."""
    busy = random.choice([0.02, 0.1, 0.3, 0.8])
    at = np.where(random.random((frames, pixels)) < busy, np.arange(frames)[:, None], 0)
    chosen = random.integers(0, palette.shape[1], (frames, pixels))
    chosen = np.take_along_axis(chosen, np.maximum.accumulate(at), axis=0)
    return palette[np.arange(pixels), chosen]


def _jumps(random, frames, pixels, rate):
    return jumps(random, frames, pixels, random.integers(0, 256, (pixels, random.integers(2, 6), 3)))


def _reds(random, frames, pixels, rate):
    return jumps(random, frames, pixels, random.integers(0, 256, (pixels, 4, 3)) // [1, 3, 3])


def _dim_reds(random, frames, pixels, rate):
    return jumps(random, frames, pixels, random.integers(0, 64, (pixels, 4, 3)) // [1, 4, 4])


def _bright(random, frames, pixels, rate):
    return jumps(random, frames, pixels, 255 - random.integers(0, 90, (pixels, 4, 3)))


def _drift(random, frames, pixels, rate):
    walk = random.normal(0, random.choice([4, 20, 60]), (frames, pixels, 3)).cumsum(axis=0) + random.integers(0, 256, 3)
    return np.abs(walk % 510 - 255)


def _strobe(random, frames, pixels, rate):
    """The whole house, some of it a little later, between two colours."""
    hertz, late = random.uniform(2.5, 9), random.integers(0, 3) * (np.arange(pixels) % 3)
    colours = random.integers(0, 256, (2, 3))
    phase = ((np.arange(frames)[:, None] - late) * 2 * hertz / rate).astype(int) % 2
    return colours[phase]


def _in_turn(random, frames, pixels, rate):
    """Groups of pixels in turn: each flashes seldom, what they add up to often."""
    groups, hertz = random.integers(2, 5), random.uniform(1, 2.9)
    share = random.uniform(0.2, 0.5) / groups
    own = (np.arange(pixels) % groups) / groups
    on = (np.arange(frames)[:, None] * hertz / rate - own) % 1 < share
    return on[..., None] * random.integers(100, 256, 3)


def _in_turn_red(random, frames, pixels, rate):
    lit = _in_turn(random, frames, pixels, rate)
    return np.where(lit.any(axis=2)[..., None], [random.integers(30, 256), 0, 0], random.integers(0, 100, 3))


def _bursts(random, frames, pixels, rate):
    """Still but for a short burst, at a rate near the limit, of some of the pixels."""
    quiet = np.broadcast_to(random.integers(0, 200, (pixels, 3)), (frames, pixels, 3)).copy()
    begin, length = random.integers(0, frames // 2), random.integers(20, 60)
    changes = (np.arange(length) * random.uniform(5, 9) / rate).astype(int) % 2
    some = random.random(pixels) < random.choice([0.1, 0.5, 1.0])
    end = min(frames, begin + length)
    burst = np.where(changes[: end - begin, None] == 1, random.integers(0, 256, 3), random.integers(0, 256, 3))
    quiet[begin:end, some] = burst[:, None]
    return quiet


_MAKERS = {
    "jumps": _jumps, "reds": _reds, "dim reds": _dim_reds, "drift": _drift, "strobe": _strobe, "in turn": _in_turn,
    "in turn, in red": _in_turn_red, "bright": _bright, "bursts": _bursts,
}  # fmt: skip
