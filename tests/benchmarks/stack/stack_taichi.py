"""The six-cue stack in Taichi: one kernel, parallel over frames and pixels, on the CPU."""

from functools import cache

import numpy as np

from .reference import power_table
from .shared import frame_parts, pixel_parts, sparkle_steps

name = "Taichi (CPU)"


def available():
    try:
        import taichi  # noqa: F401
    except ImportError:
        return "not installed"
    return None


def render(places, frames, fps=40, sparkle=True):
    pixel, frame = pixel_parts(places), frame_parts(frames, fps)
    out = np.empty((len(frames), len(pixel["p"]), 3), np.uint8)
    pixels = np.ascontiguousarray(np.stack([pixel[key] for key in ("p", "r20", "y", "u8")]))
    per_frame = np.ascontiguousarray(
        np.stack([frame[key] for key in ("front", "phase", "pulse", "slide", "chase", "blue")])
    )
    _painter(sparkle)(pixels, per_frame, sparkle_steps(frames, fps), power_table(), out)
    return out


@cache
def _painter(sparkle):
    import taichi as ti

    ti.init(arch=ti.cpu, fast_math=True, offline_cache=False)

    @ti.func
    def smooth(value, low, high):
        share = ti.math.clamp((value - low) / (high - low), 0.0, 1.0)
        return share * share * (3.0 - 2.0 * share)

    @ti.func
    def twinkle(i, step):
        h = ti.u32(i) * ti.u32(0x9E3779B1) ^ step * ti.u32(0x85EBCA77)
        h = (h ^ (h >> 16)) * ti.u32(0x85EBCA6B)
        h = (h ^ (h >> 13)) * ti.u32(0xC2B2AE35)
        chance = ti.f32((h ^ (h >> 16)) >> 8) * (1.0 / 16777216.0)
        return ti.max(chance - 0.95, 0.0) * 20.0

    @ti.kernel
    def paint(
        pixels: ti.types.ndarray(dtype=ti.f32, ndim=2),
        frames: ti.types.ndarray(dtype=ti.f32, ndim=2),
        steps: ti.types.ndarray(dtype=ti.u32, ndim=1),
        table: ti.types.ndarray(dtype=ti.u8, ndim=1),
        out: ti.types.ndarray(dtype=ti.u8, ndim=3),
    ):
        for f, i in ti.ndrange(frames.shape[1], pixels.shape[1]):
            p, r20, y, u8 = pixels[0, i], pixels[1, i], pixels[2, i], pixels[3, i]
            level = 1.0 - smooth(ti.abs(p - frames[0, f]), 0.075, 0.15)
            canvas = level * ti.Vector([0.9, 0.3 + 0.5 * p, 0.1])
            level = 0.5 + 0.5 * ti.sin(r20 - frames[1, f])
            canvas += level * (ti.Vector([0.1, 0.5, 0.8 + 0.01 * r20]) - canvas)
            canvas += frames[2, f] * (ti.Vector([1.0, 0.9, 0.7]) - canvas)
            if ti.static(sparkle):
                canvas += twinkle(i, steps[f]) * (1.0 - canvas)
            q = ti.math.fract(y + frames[3, f])
            canvas += 0.3 * (ti.Vector([q, 0.2, 1.0 - q]) - canvas)
            c = ti.math.fract(u8 - frames[4, f])
            canvas += smooth(c, 0.6, 1.0) * (ti.Vector([c, 1.0 - c, frames[5, f]]) - canvas)
            for k in ti.static(range(3)):
                out[f, i, k] = table[ti.i32(ti.math.clamp(canvas[k], 0.0, 1.0) * 4095.0 + 0.5)]

    return paint
