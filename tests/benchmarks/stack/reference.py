"""The six-cue stack written out plainly in float64: slow, and what every contender has to agree with."""

import numpy as np

JUMP_MARGIN = 1e-4  # float32 may put a pixel this close to a jump of `fract` on the other side of it


def fract(value):
    return value - np.floor(value)


def smoothstep(low, high, value):
    share = np.clip((value - low) / (high - low), 0, 1)
    return share * share * (3 - 2 * share)


def power_table():
    """Power 2.2 by 4,096 entries: uint8 (4096,), indexed by the linear value times 4,095, rounded."""
    return np.floor(255 * np.linspace(0, 1, 4096) ** 2.2 + 0.5).astype(np.uint8)


def render(places, frames, fps=40, sparkle=True):
    """Bytes of the stack, uint8 (frames, pixels, 3), in float64 throughout."""
    return np.stack([_frame(places, frame / fps, sparkle) for frame in frames])


def near_jump(places, frames, fps=40):
    """Pixels that stand within JUMP_MARGIN of a jump in the wash or the chase: bool (frames, pixels)."""
    seconds = np.array(frames)[:, None] / fps
    phases = (places["y"] + 0.2 * seconds / 2, 8 * places["u"].astype(np.float64) - seconds)
    return np.logical_or(*[np.abs(phase - np.rint(phase)) < JUMP_MARGIN for phase in phases])


def _frame(places, t, sparkle):
    x, y, u = (places[key].astype(np.float64) for key in "xyu")
    beat, bar, bass = 2 * t, t / 2, abs(np.sin(t))
    canvas = np.zeros((len(x), 3))

    def over(level, red, green, blue):
        colour = np.stack(np.broadcast_arrays(red, green, blue, x)[:3], axis=-1)
        alpha = np.broadcast_to(level, x.shape)[:, None]
        canvas[:] = alpha * colour + (1 - alpha) * canvas

    p = x * np.cos(0.4) + y * np.sin(0.4)
    front = -0.15 + (1.15 + 0.15) * fract(beat / 4)
    over(1 - smoothstep(0.075, 0.15, np.abs(p - front)), 0.9, 0.3 + 0.5 * p, 0.1)
    r = np.hypot(x - 0.5, y - 0.5)
    over(0.5 + 0.5 * np.sin(20 * r - 2 * np.pi * beat * 0.5), 0.1, 0.5, 0.8 + 0.2 * r)
    over(np.exp(-4 * fract(beat)), 1, 0.9, 0.7)
    if sparkle:
        chance = np.random.default_rng(int(4 * beat)).random(len(x))
        over(np.maximum(chance - 0.95, 0) * 20, 1, 1, 1)
    q = fract(y + 0.2 * bar)
    over(0.3, q, 0.2, 1 - q)
    c = fract(8 * u - 0.5 * beat)
    over(smoothstep(0.6, 1, c), c, 1 - c, 0.5 * bass)
    return power_table()[np.floor(np.clip(canvas, 0, 1) * 4095 + 0.5).astype(int)]
