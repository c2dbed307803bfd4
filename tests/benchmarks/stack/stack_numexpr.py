"""The six-cue stack in numexpr: one expression per level and per channel, float32, on its own threads."""

import re

import numpy as np

from .reference import power_table
from .shared import frame_parts, pixel_parts, sparkle_steps

name = "numexpr"
BLOCK = 100_000  # pixel-frames at a time; best of 10,000 to 800,000
SMOOTH = "{s} * {s} * (3 - 2 * {s})"
OVER = "({under}) * (1 - {level}) + {level} * ({colour})"
SHARES = {
    "s1": "minimum(maximum((abs(p - front) - 0.075) / 0.075, 0.0), 1.0)",
    "ring": "0.5 + 0.5 * sin(r20 - phase)",
    "q": "y + slide - floor(y + slide)",
    "c": "u8 - chase - floor(u8 - chase)",
}
COLOURS = {  # red, green, blue of each cue, bottom first
    "sweep": ("0.9", "green", "0.1"),
    "ring": ("0.1", "0.5", "rim"),
    "pulse": ("1.0", "0.9", "0.7"),
    "twinkle": ("1.0", "1.0", "1.0"),
    "wash": ("q", "0.2", "1 - q"),
    "tip": ("c", "1 - c", "blue"),
}
SCRAMBLE = (("h ^ ((h >> 16) & 65535)", -2048144789), ("h ^ ((h >> 13) & 524287)", -1028477387))


def available():
    try:
        import numexpr  # noqa: F401
    except ImportError:
        return "not installed"
    return None


def render(places, frames, fps=40, sparkle=True):
    import numexpr

    pixel, frame, table = pixel_parts(places), frame_parts(frames, fps), power_table()
    steps = sparkle_steps(frames, fps).astype(np.int32)
    count = len(pixel["p"])
    index = np.arange(count, dtype=np.int32)
    out = np.empty((len(frames), count, 3), np.uint8)
    size = max(1, BLOCK // count)

    def evaluate(text, values):
        """numexpr takes a decimal in the text for a double, so each goes in as a float32 value of its own."""
        decimals = sorted(set(re.findall(r"\d+\.\d+", text)))
        names = {decimal: f"k{i}" for i, decimal in enumerate(decimals)}
        text = re.sub(r"\d+\.\d+", lambda found: names[found[0]], text)
        constants = {names[decimal]: np.float32(decimal) for decimal in decimals}
        return numexpr.evaluate(text, local_dict={**values, **constants}, global_dict={})

    for start in range(0, len(frames), size):
        part = slice(start, start + size)
        values = {**pixel, **{key: value[part, None] for key, value in frame.items()}}
        values |= {key: evaluate(text, values) for key, text in SHARES.items()}
        values["s2"] = evaluate("minimum(maximum((c - 0.6) / 0.4, 0.0), 1.0)", values)
        values["sweep"] = evaluate("1 - " + SMOOTH.format(s="s1"), values)
        values["tip"] = evaluate(SMOOTH.format(s="s2"), values)
        if sparkle:
            values["twinkle"] = _twinkle(evaluate, index, steps[part, None])
        for k in range(3):
            indices = evaluate(_channel(k, sparkle), values).astype(np.int32)
            out[part, :, k] = table[indices]
    return out


def _channel(k, sparkle):
    """One channel's expression: all cues source-over, as an index into the power table."""
    text = "0.0"
    for cue, colours in COLOURS.items():
        if cue == "twinkle" and not sparkle:
            continue
        text = OVER.format(under=text, level="0.3" if cue == "wash" else cue, colour=colours[k])
    return f"minimum(maximum({text}, 0.0), 1.0) * 4095 + 0.5"


def _twinkle(evaluate, index, step):
    """The sparkle's level from a whole-number hash: the finaliser of MurmurHash3 (public domain)."""
    h = evaluate("(i * -1640531535) ^ (s * -2048144777)", {"i": index, "s": step})
    for mixed, factor in SCRAMBLE:
        h = evaluate(f"({mixed}) * ({factor})", {"h": h})
    h = evaluate("(h ^ (h >> 16)) & 16777215", {"h": h}).astype(np.float32)
    return evaluate("maximum(h / 16777216 - 0.95, 0.0) * 20", {"h": h})
