"""Frames packed into little: steps of colour, pixel by pixel along time, in DEFLATE streams of two seconds.

A pack is exact where that fits the room it is given. Where it does not, colours are rounded as eyes see them: to steps
of brightness (Y) and of two colour differences (Co, Cg) on a scale on which equal steps look alike (the square root
of light), coarser and coarser until it fits, and a pixel takes a new colour only when it has left the old one's
step. Beyond that, frames are left out.

A stream (zlib, RFC 1950, that a browser's DecompressionStream reads as ``deflate``) holds, with n pixels and f frames:

```
uint8   3 x n          the colour at the first frame: three planes
uint8   3 x d          steps: what is added to the three planes, modulo 256; three planes
uint8   n x (f - 1)    pixel by pixel, frame after frame: 0 as before, 1..d add that step, 255 add the next escape
uint8   3 x e          escapes, in the order of frames, then of pixels: three planes
```
"""

from __future__ import annotations

import zlib
from collections import deque
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.processors import processors

if TYPE_CHECKING:
    from eavesong.scene.reopen import Reopened

Bytes = NDArray[np.uint8]

SECONDS = 2.0
"""Of a stream: what a jump in the song decodes."""
ESCAPE = 255
DEAD = 0.8
"""Share of a step by which a colour may be off before it changes: less than a whole one, more than half."""
EFFORT = 4
"""zlib's level: 6 saves four bytes of a hundred more and takes three times as long."""
SAMPLES = 8
"""Streams that are packed on trial to choose the fidelity."""


@dataclass(frozen=True)
class Fidelity:
    """How faithful a pack is."""

    luma: int = 0
    """Step of Y, of 255 on the scale of the square root of light; 0: exact."""
    chroma: int = 0
    """Step of Co and Cg, of 255."""
    every: int = 1
    """Every how many frames one is kept."""

    @property
    def exact(self) -> bool:
        """Whether every byte of every frame comes back as it was."""
        return self.luma == 0 and self.every == 1


LADDER = (
    Fidelity(), Fidelity(3, 6), Fidelity(4, 8), Fidelity(5, 10), Fidelity(6, 12), Fidelity(7, 14), Fidelity(8, 16),
    Fidelity(10, 20), Fidelity(12, 24), Fidelity(15, 30), Fidelity(12, 24, 2), Fidelity(16, 32, 2),
    Fidelity(24, 48, 2), Fidelity(24, 48, 4),
)  # fmt: skip
"""From exact to coarse; the first that fits is taken."""


@dataclass(frozen=True, eq=False)
class Pack:
    """Packed frames."""

    fidelity: Fidelity
    chunk_frames: int
    """Kept frames of a stream; the last one may have fewer."""
    frame_count: int
    """Kept frames in all."""
    streams: tuple[bytes, ...]
    steps: tuple[int, ...]
    """How many steps (d) each stream's table has."""


def pack(source: Reopened, room: int) -> Pack:
    """The frames of ``source`` in at most ``room`` bytes, as faithfully as that allows.

    The coarsest fidelity is kept even where it takes more than ``room``.
    """
    size = max(2, round(SECONDS * source.frames.frame_rate))
    firsts = range(0, source.frames.frame_count, size)
    chosen = _start_of_ladder(source, size, room)
    for fidelity in LADDER[chosen:]:
        made = _pack(source, fidelity, list(firsts), size, room if fidelity != LADDER[-1] else 1 << 62)
        if made is not None:
            return made
    raise AssertionError("the last fidelity has no limit")


def _start_of_ladder(source: Reopened, size: int, room: int) -> int:
    """The first fidelity that fits, by what some streams spread over the song take."""
    firsts = list(range(0, source.frames.frame_count, size))
    sample = sorted({firsts[int(at)] for at in np.linspace(0, len(firsts) - 1, min(SAMPLES, len(firsts)))})
    light = [source.light(first, min(first + size, source.frames.frame_count)) for first in sample]
    low, high = 0, len(LADDER) - 1
    while low < high:
        middle = (low + high) // 2
        with ThreadPoolExecutor(processors()) as pool:
            sizes = list(pool.map(lambda block, at=middle: len(_stream(block, LADDER[at])[0]), light))
        if sum(sizes) / len(sample) * len(firsts) <= room * 0.97:
            high = middle
        else:
            low = middle + 1
    return low


def _pack(source: Reopened, fidelity: Fidelity, firsts: list[int], size: int, room: int) -> Pack | None:
    """All streams at one fidelity; None as soon as they take more than ``room``."""
    streams, steps, total = [], [], 0
    for data, count in _in_order(source, fidelity, firsts, size):
        streams.append(data)
        steps.append(count)
        total += len(data)
        if total > room:
            return None
    kept = -(-size // fidelity.every)
    last = source.frames.frame_count - firsts[-1]
    frame_count = (len(firsts) - 1) * kept + -(-last // fidelity.every)
    return Pack(fidelity, kept, frame_count, tuple(streams), tuple(steps))


def _in_order(source: Reopened, fidelity: Fidelity, firsts: list[int], size: int) -> Iterator[tuple[bytes, int]]:
    """Streams in order; only a few more blocks of frames than there are threads are in memory."""
    threads = processors()
    waiting: deque[Future[tuple[bytes, int]]] = deque()
    with ThreadPoolExecutor(threads) as pool:
        for first in firsts:
            light = source.light(first, min(first + size, source.frames.frame_count))
            waiting.append(pool.submit(_stream, light, fidelity))
            if len(waiting) > threads:
                yield waiting.popleft().result()
        for each in waiting:
            yield each.result()


def _stream(light: Bytes, fidelity: Fidelity) -> tuple[bytes, int]:
    """One stream of frames uint8 (f, n, 3), and the number of steps in its table."""
    first, keys = _steps(np.ascontiguousarray(light[:: fidelity.every]), fidelity)
    moved = keys != 0
    found, counts = np.unique(keys[moved], return_counts=True)
    table = found[np.argsort(-counts, kind="stable")][: ESCAPE - 1]
    code_of = np.zeros(1 << 24, np.uint8)  # of which the system makes only the pages that are touched
    code_of[table] = np.arange(1, len(table) + 1)
    codes = code_of[keys]
    codes[moved & (codes == 0)] = ESCAPE
    escapes = keys.T[codes.T == ESCAPE]
    parts = (first, _planes_of(table), codes, _planes_of(escapes))
    return zlib.compress(b"".join(part.tobytes() for part in parts), EFFORT), len(table)


def _steps(light: Bytes, fidelity: Fidelity) -> tuple[Bytes, NDArray[np.int32]]:
    """The first frame's colours (3, n), and what is added from frame to frame (n, f - 1), as the kernels tell it."""
    from eavesong.kernels.calls import exact_steps, rounded_steps

    frames, n = light.shape[:2]
    first, keys = np.empty((3, n), np.uint8), np.empty((n, max(frames - 1, 0)), np.int32)
    if fidelity.luma:
        rounded_steps(light, _ROOTS, fidelity.luma, fidelity.chroma, DEAD, first, keys)
    else:
        exact_steps(light, first, keys)
    return first, keys


def _planes_of(keys: NDArray[np.int32]) -> Bytes:
    """Three planes (3, k) of what keys (k,) say."""
    return np.stack([keys >> 16, keys >> 8 & 255, keys & 255]).astype(np.uint8)


_ROOTS = (255 * np.sqrt(np.arange(256) / 255)).astype(np.float32)


def unpacked(packed: Pack, chunk: int, pixel_count: int) -> Bytes:
    """Frames uint8 (f, n, 3) of light from one stream, as the page unpacks them: the reference for its code."""
    data = np.frombuffer(zlib.decompress(packed.streams[chunk]), np.uint8)
    frames = min(packed.chunk_frames, packed.frame_count - chunk * packed.chunk_frames)
    n, d = pixel_count, packed.steps[chunk]
    first, steps = data[: 3 * n].reshape(3, n), data[3 * n : 3 * (n + d)].reshape(3, d)
    codes = data[3 * (n + d) : 3 * (n + d) + n * (frames - 1)].reshape(n, frames - 1).T
    escapes = data[3 * (n + d) + n * (frames - 1) :].reshape(3, -1)
    change = np.zeros((frames, n, 3), np.uint8)
    change[0] = first.T
    lookup = np.zeros((256, 3), np.uint8)
    lookup[1 : d + 1] = steps.T
    change[1:] = lookup[codes]
    change[1:][codes == ESCAPE] = escapes.T
    return colours_of(np.cumsum(change, axis=0, dtype=np.uint8), packed.fidelity)


def colours_of(planes: Bytes, fidelity: Fidelity) -> Bytes:
    """The light uint8 that planes (…, 3) stand for; the inverse of ``colour_planes``."""
    if not fidelity.luma:
        return planes
    y = planes[..., 0].astype(np.float32) * fidelity.luma
    co, cg = (planes[..., at].astype(np.int8).astype(np.float32) * fidelity.chroma for at in (1, 2))
    green, rest = y + cg / 2, y - cg / 2
    roots = np.clip(np.stack([rest + co / 2, green, rest - co / 2], axis=-1), 0, 255)
    return np.round(roots * roots / 255).astype(np.uint8)


def as_text(data: bytes) -> bytes:
    """Bytes as one HTML script element of a page in windows-1252 holds them: a byte is a character.

    The four that HTML would change or end on are written as '=' and the byte plus 64; so this takes 1.6 % more where
    Base64 takes 33 %. Source: the HTML standard, 13.2.5.4 (script data) and 13.2.3.5 (line ends).
    """
    for byte in (0x3D, 0x00, 0x0D, 0x3C):
        data = data.replace(bytes([byte]), bytes([0x3D, byte + 64]))
    return data
