"""The six-cue stack in numpy, tuned: each operation writes into work arrays that a thread makes once."""

from concurrent.futures import ThreadPoolExecutor
from threading import local

import numpy as np

from .reference import power_table
from .shared import frame_parts, pixel_parts, sparkle_steps

name = "numpy, arrays reused"
BLOCK = 160_000  # pixel-frames at a time; best of 20,000 to 160,000
THREADS = 2
F = np.float32


def available():
    return None


def render(places, frames, fps=40, sparkle=True):
    pixel, frame, table = pixel_parts(places), frame_parts(frames, fps), power_table()
    steps = sparkle_steps(frames, fps)
    count = len(pixel["p"])
    out = np.empty((len(frames), count, 3), np.uint8)
    size = max(1, BLOCK // count)
    thread = local()

    def block(start):
        part = slice(start, min(start + size, len(frames)))
        if not hasattr(thread, "work"):
            thread.work = Work(size, count)
        some = {key: value[part, None] for key, value in frame.items()}
        work = thread.work.rows(part.stop - part.start)
        _paint(work, pixel, some, steps[part, None] if sparkle else None)
        for k, channel in enumerate(work.canvas):
            np.clip(channel, 0, 1, out=channel)
            channel *= F(4095)
            channel += F(0.5)
            np.copyto(work.index, channel, casting="unsafe")
            out[part, :, k] = table[work.index]

    with ThreadPoolExecutor(THREADS) as pool:
        list(pool.map(block, range(0, len(frames), size)))
    return out


class Work:
    """Arrays (frames, pixels) that one thread writes over and over: making new ones costs page faults."""

    def __init__(self, frames, pixels, arrays=None):
        self.arrays = arrays or [np.empty((frames, pixels), kind) for kind in "fffffffqII"]
        *self.canvas, self.level, self.colour, self.turned, self.spare, self.index, self.hash, self.bits = self.arrays

    def rows(self, count):
        return Work(0, 0, [array[:count] for array in self.arrays])


def _over(work, level, colour):
    for channel, value in zip(work.canvas, colour, strict=True):
        np.subtract(value, channel, out=work.spare)
        work.spare *= level
        channel += work.spare


def _smooth(work, value, low, high):
    """Smoothstep of `value` into work.level."""
    share, spare = work.level, work.spare
    np.subtract(value, F(low), out=share)
    share *= F(1 / (high - low))
    np.clip(share, 0, 1, out=share)
    np.multiply(share, F(-2), out=spare)
    spare += F(3)
    spare *= share
    share *= spare


def _fract(work, value, shift):
    """Fraction of value + shift into work.colour, 1 minus it into work.turned."""
    np.add(value, shift, out=work.colour)
    np.floor(work.colour, out=work.turned)
    work.colour -= work.turned
    np.subtract(F(1), work.colour, out=work.turned)


def _twinkle(work, step):
    """The sparkle's level, from the finaliser of MurmurHash3 (public domain), into work.level."""
    h, bits, level = work.hash, work.bits, work.level
    index = np.arange(h.shape[1], dtype=np.uint32) * np.uint32(0x9E3779B1)
    np.bitwise_xor(index, step * np.uint32(0x85EBCA77), out=h)
    for shift, factor in ((16, 0x85EBCA6B), (13, 0xC2B2AE35), (16, 1)):
        np.right_shift(h, np.uint32(shift), out=bits)
        h ^= bits
        h *= np.uint32(factor)
    np.multiply(h, F(2**-32), out=level, dtype=F, casting="unsafe")
    level -= F(0.95)
    np.maximum(level, 0, out=level)
    level *= F(20)


def _paint(work, pixel, frame, step):
    """The canvas of a block: work.canvas, three float32 arrays (frames, pixels)."""
    level = work.level
    np.subtract(pixel["p"], frame["front"], out=work.colour)
    np.abs(work.colour, out=work.colour)
    _smooth(work, work.colour, 0.075, 0.15)
    np.subtract(F(1), level, out=level)
    for channel, value in zip(work.canvas, (F(0.9), pixel["green"], F(0.1)), strict=True):
        np.multiply(level, value, out=channel)
    np.subtract(pixel["r20"], frame["phase"], out=level)
    np.sin(level, out=level)
    level *= F(0.5)
    level += F(0.5)
    _over(work, level, (F(0.1), F(0.5), pixel["rim"]))
    _over(work, frame["pulse"], (F(1), F(0.9), F(0.7)))
    if step is not None:
        _twinkle(work, step)
        _over(work, level, (F(1), F(1), F(1)))
    _fract(work, pixel["y"], frame["slide"])
    _over(work, F(0.3), (work.colour, F(0.2), work.turned))
    _fract(work, pixel["u8"], -frame["chase"])
    _smooth(work, work.colour, 0.6, 1)
    _over(work, level, (work.colour, work.turned, frame["blue"]))
