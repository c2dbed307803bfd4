"""The six-cue stack in numpy, straight from its description: float32, one frame after the other, nothing hoisted."""

import numpy as np

from .reference import power_table

name = "numpy, straight"


def available():
    return None


def render(places, frames, fps=40, sparkle=True):
    x, y, u = (np.ascontiguousarray(places[key], np.float32) for key in "xyu")
    table = power_table()
    index = np.arange(len(x), dtype=np.uint32)
    out = np.empty((len(frames), len(x), 3), np.uint8)
    for row, frame in enumerate(frames):
        canvas = _frame(x, y, u, index, frame / fps, sparkle)
        steps = (np.clip(canvas, 0, 1) * np.float32(4095) + np.float32(0.5)).astype(np.int32)
        out[row] = table[steps].T
    return out


def _frame(x, y, u, index, t, sparkle):
    """The light of one frame, float32 (3, pixels)."""
    beat, bar, bass = 2 * t, t / 2, abs(np.sin(t))
    canvas = np.zeros((3, len(x)), np.float32)
    one = np.ones_like(x)

    p = x * np.float32(np.cos(0.4)) + y * np.float32(np.sin(0.4))
    front = np.float32(-0.15 + 1.3 * ((beat / 4) % 1))
    over(canvas, 1 - smoothstep(0.075, 0.15, np.abs(p - front)), (0.9 * one, 0.3 + 0.5 * p, 0.1 * one))

    r = np.hypot(x - np.float32(0.5), y - np.float32(0.5))
    ring = 0.5 + 0.5 * np.sin(20 * r - np.float32(np.pi * (beat % 2)))
    over(canvas, ring, (0.1 * one, 0.5 * one, 0.8 + 0.2 * r))

    over(canvas, np.float32(np.exp(-4 * (beat % 1))), (one, 0.9 * one, 0.7 * one))

    if sparkle:
        spark = np.maximum(hashed(index, np.uint32(4 * beat)) - np.float32(0.95), 0) * 20
        over(canvas, spark, (one, one, one))

    q = y + np.float32((0.2 * bar) % 1)
    q = q - np.floor(q)
    over(canvas, np.float32(0.3), (q, 0.2 * one, 1 - q))

    c = 8 * u - np.float32((0.5 * beat) % 1)
    c = c - np.floor(c)
    over(canvas, smoothstep(0.6, 1, c), (c, 1 - c, np.float32(0.5 * bass) * one))
    return canvas


def over(canvas, level, colour):
    for channel, value in zip(canvas, colour, strict=True):
        channel += level * (value - channel)


def smoothstep(low, high, value):
    share = np.clip((value - np.float32(low)) / np.float32(high - low), 0, 1)
    return share * share * (3 - 2 * share)


def hashed(index, step):
    """Uniform 0..1 from two whole numbers: the finaliser of MurmurHash3 (public domain)."""
    h = index * np.uint32(0x9E3779B1) ^ step * np.uint32(0x85EBCA77)
    h ^= h >> np.uint32(16)
    h *= np.uint32(0x85EBCA6B)
    h ^= h >> np.uint32(13)
    h *= np.uint32(0xC2B2AE35)
    h ^= h >> np.uint32(16)
    return h.astype(np.float32) * np.float32(2**-32)
