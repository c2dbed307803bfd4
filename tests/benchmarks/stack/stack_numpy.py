"""The six-cue stack in numpy with some care: common parts taken out, in blocks of frames, two threads."""

from concurrent.futures import ThreadPoolExecutor

import numpy as np

from .reference import power_table
from .shared import frame_parts, pixel_parts, sparkle_steps

name = "numpy, in blocks"
BLOCK = 40_000  # pixel-frames at a time; best of 5,000 to 1,280,000 when the result is large
THREADS = 2


def available():
    return None


def render(places, frames, fps=40, sparkle=True):
    pixel, frame, table = pixel_parts(places), frame_parts(frames, fps), power_table()
    steps = sparkle_steps(frames, fps)
    pixel_count = len(pixel["p"])
    out = np.empty((len(frames), pixel_count, 3), np.uint8)
    size = max(1, BLOCK // pixel_count)

    def block(start):
        part = slice(start, start + size)
        some = {key: value[part, None] for key, value in frame.items()}
        canvas = _paint(pixel, some, steps[part, None] if sparkle else None)
        for k, channel in enumerate(canvas):
            np.clip(channel, 0, 1, out=channel)
            channel *= np.float32(4095)
            channel += np.float32(0.5)
            out[part, :, k] = table[channel.astype(np.int32)]

    with ThreadPoolExecutor(THREADS) as pool:
        list(pool.map(block, range(0, len(frames), size)))
    return out


def _over(canvas, level, colour):
    for channel, value in zip(canvas, colour, strict=True):
        channel += level * (value - channel)


def _smooth(value, low, high):
    share = np.clip((value - np.float32(low)) * np.float32(1 / (high - low)), 0, 1)
    return share * share * (3 - 2 * share)


def _fract(value):
    return value - np.floor(value)


def _hash(index, step):
    """Uniform 0..1 from two whole numbers: the finaliser of MurmurHash3 (public domain)."""
    h = index * np.uint32(0x9E3779B1) ^ step * np.uint32(0x85EBCA77)
    h ^= h >> np.uint32(16)
    h *= np.uint32(0x85EBCA6B)
    h ^= h >> np.uint32(13)
    h *= np.uint32(0xC2B2AE35)
    h ^= h >> np.uint32(16)
    return h.astype(np.float32) * np.float32(2**-32)


def _paint(pixel, frame, step):
    """The canvas of a block: three float32 arrays (frames, pixels)."""
    level = 1 - _smooth(np.abs(pixel["p"] - frame["front"]), 0.075, 0.15)
    canvas = [level * np.float32(0.9), level * pixel["green"], level * np.float32(0.1)]
    ring = np.float32(0.5) + np.float32(0.5) * np.sin(pixel["r20"] - frame["phase"])
    _over(canvas, ring, (np.float32(0.1), np.float32(0.5), pixel["rim"]))
    _over(canvas, frame["pulse"], (np.float32(1), np.float32(0.9), np.float32(0.7)))
    if step is not None:
        index = np.arange(len(pixel["p"]), dtype=np.uint32)
        twinkle = np.maximum(_hash(index, step) - np.float32(0.95), 0) * np.float32(20)
        _over(canvas, twinkle, (np.float32(1),) * 3)
    q = _fract(pixel["y"] + frame["slide"])
    _over(canvas, np.float32(0.3), (q, np.float32(0.2), 1 - q))
    c = _fract(pixel["u8"] - frame["chase"])
    _over(canvas, _smooth(c, 0.6, 1), (c, 1 - c, frame["blue"]))
    return canvas
