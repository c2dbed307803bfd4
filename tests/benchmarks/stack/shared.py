"""What every contender takes out of its inner loop: the parts that only a frame, or only a pixel, needs."""

import numpy as np


def frame_parts(frames, fps):
    """Float32 (frames,) each; worked out in float64 and reduced to small numbers, so that float32 is enough."""
    t = np.array(frames) / fps
    beat = 2 * t
    parts = {
        "front": -0.15 + 1.3 * ((beat / 4) % 1),
        "phase": np.pi * (beat % 2),
        "pulse": np.exp(-4 * (beat % 1)),
        "slide": (0.1 * t) % 1,
        "chase": (0.5 * beat) % 1,
        "blue": 0.5 * np.abs(np.sin(t)),
    }
    return {key: value.astype(np.float32) for key, value in parts.items()}


def sparkle_steps(frames, fps):
    """The sparkle's step, floor(4 beat), uint32 (frames,)."""
    return np.floor(8 * np.array(frames) / fps).astype(np.uint32)


def pixel_parts(places):
    """Float32 (pixels,) each: place along the sweep, distance from the middle, both as the cues use them."""
    x, y, u = (np.ascontiguousarray(places[key], np.float32) for key in "xyu")
    across = x * np.float32(np.cos(0.4)) + y * np.float32(np.sin(0.4))
    r = np.hypot(x - np.float32(0.5), y - np.float32(0.5))
    return {
        "p": across,
        "green": np.float32(0.3) + np.float32(0.5) * across,
        "r20": np.float32(20) * r,
        "rim": np.float32(0.8) + np.float32(0.2) * r,
        "y": y,
        "u8": np.float32(8) * u,
    }
