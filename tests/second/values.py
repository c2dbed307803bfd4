"""What every operation gives, by the manual's tables, and the value of an expression."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from second.made import LIGHT, ROOTS
from second.trees import Tree

END = (2 - 2**-23) * 2.0**127


def held(value: float) -> float:
    return max(-END, min(END, value))


def over(x: float, y: float) -> float:
    return x / y if y else 0.0


def clamp(x: float, low: float, high: float) -> float:
    return min(max(x, low), high)


def mod(x: float, y: float) -> float:
    return clamp(x - y * math.floor(over(x, y)), min(y, 0), max(y, 0)) if y else 0.0


def smoothstep(a: float, b: float, x: float) -> float:
    t = (0.0 if x < a else 1.0) if a == b else clamp((x - a) / (b - a), 0, 1)
    return t * t * (3 - 2 * t)


def exp2(x: float) -> float:
    return 2.0 ** clamp(x, -126, 127)


def log2(x: float) -> float:
    return math.log2(max(x, 2.0**-126))


def raised(x: float, y: float) -> float:
    if y == 0 or x == 0:
        return 1.0 if y == 0 else 0.0
    if x < 0 and y != math.floor(y):
        return 0.0
    sign = -1 if x < 0 and math.fmod(y, 2) != 0 else 1
    return sign * exp2(y * log2(abs(x)))


def decode(value: float) -> float:
    v = clamp(value, 0, 1)
    return v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4


KEYS = (0x9E3779B1, 0x85EBCA77, 0xC2B2AE3D)


def unit(bits: int) -> float:
    n = bits % 2**32
    n = (n ^ n >> 16) * 0x7FEB352D % 2**32
    n = (n ^ n >> 15) * 0x846CA68B % 2**32
    return ((n ^ n >> 16) >> 8) / 2**24


def whole(x: float) -> int:
    return max(-(2**30), min(2**30, math.floor(x)))


def drawn(*values: float) -> float:
    keys = (whole(x) * 0x27D4EB2F + math.floor((x - math.floor(x)) * 65536 + 0.5) for x in values)
    return unit(sum(key * by for key, by in zip(keys, KEYS, strict=False)))


def noise(*values: float) -> float:
    def mixed(axes: tuple[float, ...], bits: int, place: int) -> float:
        if not axes:
            return unit(bits)
        t = axes[0] - math.floor(axes[0])
        share = t**3 * (t * (6 * t - 15) + 10)
        low, high = (mixed(axes[1:], bits + (whole(axes[0]) + up) * KEYS[place], place + 1) for up in (0, 1))
        return low + share * (high - low)

    return mixed(values, 0, 0)


VALUES: dict[str, Any] = {
    "plus": lambda a, b: a + b,
    "minus": lambda a, b: a - b,
    "times": lambda a, b: a * b,
    "over": over,
    "mod": mod,
    "below": lambda a, b: float(a < b),
    "upto": lambda a, b: float(a <= b),
    "same": lambda a, b: float(a == b),
    "choose": lambda condition, a, b: a if condition else b,
    "abs": abs,
    "sign": lambda x: float((x > 0) - (x < 0)),
    "floor": math.floor,
    "ceil": math.ceil,
    "trunc": math.trunc,
    "round": lambda x: math.floor(x) + (x - math.floor(x) >= 0.5),
    "fract": lambda x: x - math.floor(x),
    "wrap": lambda x: x - math.floor(x) - (x - math.floor(x) >= 0.5),
    "min": min,
    "max": max,
    "clamp": clamp,
    "mix": lambda x, y, amount: x * (1 - amount) + y * amount,
    "step": lambda at, x: float(x >= at),
    "smoothstep": smoothstep,
    "sqrt": lambda x: math.sqrt(max(x, 0)),
    "inversesqrt": lambda x: 1 / math.sqrt(x) if x > 0 else 0.0,
    "pow": raised,
    "exp2": exp2,
    "exp": lambda x: exp2(x * math.log2(math.e)),
    "log2": log2,
    "log": lambda x: log2(x) * math.log(2),
    "sin": math.sin,
    "cos": math.cos,
    "tan": lambda x: over(math.sin(x), math.cos(x)),
    "asin": lambda x: math.asin(clamp(x, -1, 1)),
    "acos": lambda x: math.acos(clamp(x, -1, 1)),
    "atan": lambda y, x: math.atan2(y + 0.0, x + 0.0),
    "length": math.hypot,
    "decode": decode,
    "hash": drawn,
    "noise": noise,
}


def palette(stops: list[tuple[float, list[float]]]) -> list[list[float]]:
    """Red, green and blue of the 256 entries of a palette of (place, linear light), mixed in OKLab (CSS Color 4)."""
    to_roots, to_light = np.array([(1.0, *row) for row in ROOTS]), np.array(LIGHT)
    lights = np.array([colour for _, colour in stops])
    labs = np.linalg.inv(to_roots) @ np.cbrt(np.linalg.inv(to_light) @ lights.T)
    at = np.arange(256) / 255
    mixed = np.stack([np.interp(at, [place for place, _ in stops], axis) for axis in labs])
    shown = np.clip(to_light @ (to_roots @ mixed) ** 3, 0, 1)
    return shown.astype(np.float32).astype(float).tolist()


def look_up(entries: list[float], p: float) -> float:
    place = clamp(p, 0, 1) * (len(entries) - 1)
    low = min(math.floor(place), len(entries) - 2)
    return entries[low] + (place - low) * (entries[low + 1] - entries[low])


def value(tree: Tree, given: dict[str, dict[str, Any]], known: dict[int, float]) -> float:
    """What ``tree`` is where ``given`` tells inputs, changes along and across, palette and spectrum."""
    if id(tree) in known:
        return known[id(tree)]
    kind, *parts = tree
    if kind == "number":
        result = parts[0]
    elif kind in ("input", "along", "across"):
        result = given[kind].get(parts[0], 0.0) if kind != "input" else given[kind][parts[0]]
    elif kind == "palette":
        result = look_up(given["tables"]["palette"][parts[1]], value(parts[0], given, known))
    elif kind == "spectrum":
        result = look_up(given["tables"]["spectrum"], value(parts[0], given, known))
    else:
        result = VALUES[kind](*(value(part, given, known) for part in parts))
    known[id(tree)] = held(float(result))
    return known[id(tree)]
