"""The six-cue stack in JAX: one jitted function over a block of frames, compiled by XLA for the CPU."""

from functools import cache

import numpy as np

from .reference import power_table
from .shared import frame_parts, pixel_parts, sparkle_steps

name = "JAX (XLA CPU)"
BLOCK = 400_000  # pixel-frames at a time; 50,000 to 4,000,000 are no better


def available():
    try:
        import jax  # noqa: F401
    except ImportError:
        return "not installed"
    return None


def render(places, frames, fps=40, sparkle=True):
    pixel, frame = pixel_parts(places), frame_parts(frames, fps)
    steps, table = sparkle_steps(frames, fps), power_table()
    count, size = len(pixel["p"]), max(1, BLOCK // len(pixel["p"]))
    paint = _painter(sparkle)
    out = np.empty((len(frames), count, 3), np.uint8)
    for start in range(0, len(frames), size):
        rows = np.arange(start, start + size).clip(max=len(frames) - 1)  # whole blocks only: one shape, one compile
        some = {key: value[rows, None] for key, value in frame.items()}
        channels = paint(pixel, some, steps[rows, None], table)
        part = out[start : start + size]
        for k, channel in enumerate(channels):
            part[:, :, k] = np.asarray(channel)[: len(part)]
    return out


@cache
def _painter(sparkle):
    import jax
    import jax.numpy as jnp

    def fract(value):
        return value - jnp.floor(value)

    def smooth(value, low, high):
        share = jnp.clip((value - low) / (high - low), 0, 1)
        return share * share * (3 - 2 * share)

    def twinkle(count, step):
        h = jnp.arange(count, dtype=jnp.uint32) * np.uint32(0x9E3779B1) ^ step * np.uint32(0x85EBCA77)
        h = (h ^ h >> 16) * np.uint32(0x85EBCA6B)
        h = (h ^ h >> 13) * np.uint32(0xC2B2AE35)
        chance = ((h ^ h >> 16) >> 8).astype(jnp.float32) * np.float32(2**-24)
        return jnp.maximum(chance - 0.95, 0) * 20

    def paint(pixel, frame, step, table):
        q, c = fract(pixel["y"] + frame["slide"]), fract(pixel["u8"] - frame["chase"])
        cues = [
            (1 - smooth(jnp.abs(pixel["p"] - frame["front"]), 0.075, 0.15), (0.9, pixel["green"], 0.1)),
            (0.5 + 0.5 * jnp.sin(pixel["r20"] - frame["phase"]), (0.1, 0.5, pixel["rim"])),
            (frame["pulse"], (1.0, 0.9, 0.7)),
            (twinkle(len(pixel["y"]), step) if sparkle else 0.0, (1.0, 1.0, 1.0)),
            (0.3, (q, 0.2, 1 - q)),
            (smooth(c, 0.6, 1), (c, 1 - c, frame["blue"])),
        ]
        canvas = [0.0, 0.0, 0.0]
        for level, colour in cues:
            canvas = [under + level * (over - under) for under, over in zip(canvas, colour, strict=True)]
        return [table[(jnp.clip(channel, 0, 1) * 4095 + 0.5).astype(jnp.int32)] for channel in canvas]

    return jax.jit(paint)
