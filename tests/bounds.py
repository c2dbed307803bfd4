"""Between which bounds single precision may bring the value of a node: interval arithmetic with rounding at every step.

A sound bound for any order of rounding: R. E. Moore, "Interval Analysis", 1966. Values are pairs of float64 arrays.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

END = (2 - 2.0**-23) * 2.0**127
TINY = 2.0**-126
ROUNDING = 2.0**-21
"""Four units in the last place of a single number: an operation and the polynomials it is made of."""

Bounds = tuple[np.ndarray, np.ndarray]


def widened(low: Any, high: Any, share: float = ROUNDING, least: float = TINY) -> Bounds:
    """The bounds as rounding may move them, held within the range."""
    low, high = np.asarray(low, np.float64), np.asarray(high, np.float64)
    low, high = low - np.abs(low) * share - least, high + np.abs(high) * share + least
    return np.clip(low, -END, END), np.clip(high, -END, END)


def _hull(*values: Any) -> Bounds:
    stacked = np.stack(np.broadcast_arrays(*values))
    return stacked.min(axis=0), stacked.max(axis=0)


def _either(sure: Any, one: Bounds, other: Bounds) -> Bounds:
    return np.where(sure, one[0], other[0]), np.where(sure, one[1], other[1])


def _both(one: Bounds, other: Bounds) -> Bounds:
    return _hull(*one, *other)


def add(x: Bounds, y: Bounds) -> Bounds:
    return x[0] + y[0], x[1] + y[1]


def negate(x: Bounds) -> Bounds:
    return -x[1], -x[0]


def multiply(x: Bounds, y: Bounds) -> Bounds:
    return _hull(*(a * b for a in x for b in y))


def divide(x: Bounds, y: Bounds) -> Bounds:
    near_zero = (y[0] <= TINY) & (y[1] >= -TINY)
    safe = np.where(near_zero, 1.0, y[0]), np.where(near_zero, 1.0, y[1])
    return _either(
        near_zero, (np.full_like(y[0], -END), np.full_like(y[0], END)), multiply(x, (1 / safe[1], 1 / safe[0]))
    )


def less(x: Bounds, y: Bounds) -> Bounds:
    return (x[1] < y[0]).astype(float), (x[0] < y[1]).astype(float)


def select(condition: Bounds, x: Bounds, y: Bounds) -> Bounds:
    never = (condition[0] == 0) & (condition[1] == 0)
    always = (condition[0] > 0) | (condition[1] < 0)
    return _either(always, x, _either(never, y, _both(x, y)))


def abs_(x: Bounds) -> Bounds:
    _, high = _hull(np.abs(x[0]), np.abs(x[1]))
    return np.where((x[0] <= 0) & (x[1] >= 0), 0.0, np.minimum(np.abs(x[0]), np.abs(x[1]))), high


def clamp(x: Bounds, low: Bounds, high: Bounds) -> Bounds:
    return tuple(np.minimum(np.maximum(x[end], low[end]), high[end]) for end in (0, 1))


def mix(x: Bounds, y: Bounds, amount: Bounds) -> Bounds:
    return add(multiply(x, widened(1 - amount[1], 1 - amount[0])), multiply(y, amount))


def smoothstep(a: Bounds, b: Bounds, x: Bounds) -> Bounds:
    def difference(p: Bounds, q: Bounds) -> Bounds:
        return widened(p[0] - q[1], p[1] - q[0])

    t = divide(difference(x, a), difference(b, a))
    low, high = (np.clip(end, 0, 1) for end in widened(*t))
    equal = (b[0] - a[1] <= TINY) & (b[1] - a[0] >= -TINY)
    return _either(equal, (np.zeros_like(low), np.ones_like(low)), (low**2 * (3 - 2 * low), high**2 * (3 - 2 * high)))


def exp2(x: Bounds) -> Bounds:
    low, high = (np.exp2(np.clip(end, -126, 127)) for end in widened(*x, least=1e-6))
    return low * (1 - 4e-6), high * (1 + 4e-6)


def log2(x: Bounds) -> Bounds:
    low, high = (np.log2(np.maximum(end, TINY)) for end in x)
    return low - 2e-6, high + 2e-6


def pow_(x: Bounds, y: Bounds) -> Bounds:
    size = exp2(multiply(log2(abs_(x)), y))
    bounds = _either(x[0] > 0, size, _hull(-size[1], size[1], 0.0))
    return _either((y[0] > 0) | (y[1] < 0), bounds, _both(bounds, (np.ones_like(y[0]), np.ones_like(y[0]))))


def sine(function: Callable[..., Any], x: Bounds) -> Bounds:
    middle, reach = (x[0] + x[1]) / 2, (x[1] - x[0]) / 2
    reach = reach + np.abs(middle) * ROUNDING + 2e-6
    wide = (reach > 2) | (np.abs(middle) > 1e4)
    value = function(np.where(wide, 0.0, middle))
    return np.where(wide, -1.0, np.maximum(value - reach, -1)), np.where(wide, 1.0, np.minimum(value + reach, 1))


def length(*axes: Bounds) -> Bounds:
    sizes = [abs_(axis) for axis in axes]
    low, high = (np.sqrt(sum(size[end] ** 2 for size in sizes)) for end in (0, 1))
    return np.maximum(low - 1e-18, 0), high + 1e-18


def mod(x: Bounds, y: Bounds) -> Bounds:
    ends = np.minimum(y[0], 0), np.maximum(y[1], 0)
    turns = widened(*divide(x, y))
    count = np.floor(turns[0])
    sure = (count == np.floor(turns[1])) & (np.abs(count) < 2**20)
    count = np.where(sure, count, 0.0)
    rest = widened(*add(x, negate(multiply(y, (count, count)))))
    error = ROUNDING * (np.abs(x[0]) + np.abs(x[1]))
    return _either(sure, (np.maximum(rest[0] - error, ends[0]), np.minimum(rest[1] + error, ends[1])), ends)


def fract(x: Bounds) -> Bounds:
    whole = np.floor(x[0])
    sure = whole == np.floor(x[1])
    return np.where(sure, x[0] - whole, 0.0), np.where(sure, x[1] - whole, 1.0)


def _monotone(function: Callable[..., Any]) -> Callable[..., Bounds]:
    return lambda *x: tuple(function(*(bounds[end] for bounds in x)) for end in (0, 1))


RULES: dict[str, Callable[..., Bounds]] = {
    "add": add,
    "subtract": lambda x, y: add(x, negate(y)),
    "negate": negate,
    "multiply": multiply,
    "divide": divide,
    "less": less,
    "less_equal": lambda x, y: tuple(1 - end for end in reversed(less(y, x))),
    "select": select,
    "abs": abs_,
    "min": _monotone(np.minimum),
    "max": _monotone(np.maximum),
    "clamp": clamp,
    "mix": mix,
    "smoothstep": smoothstep,
    "sqrt": _monotone(lambda x: np.sqrt(np.maximum(x, 0))),
    "exp2": exp2,
    "exp": lambda x: exp2(widened(*(end * np.log2(np.e) for end in x))),
    "log2": log2,
    "pow": pow_,
    "sin": lambda x: sine(np.sin, x),
    "cos": lambda x: sine(np.cos, x),
    "atan": lambda y, x: tuple(np.arctan(end) + off for end, off in zip(y, (-2e-6, 2e-6), strict=True)),
    "length2": length,
    "length3": length,
    "mod": mod,
    "floor": _monotone(np.floor),
    "fract": fract,
}
"""Bounds of what each operation gives, from those of its arguments; ``atan`` only of y and 1."""


def bounds_of(graph: Any, wanted: tuple[int, ...], inputs: dict[str, np.ndarray]) -> dict[int, Bounds]:
    """The bounds of the nodes ``wanted``; ``inputs`` as in ``Surroundings``, exact to a single number's rounding."""
    known: dict[int, Bounds] = {}
    with np.errstate(all="ignore"):
        for number in sorted(graph.needed(wanted)):
            node = graph.nodes[number]
            if node.operation == "literal":
                value = np.full((1, 1), node.value)
                known[number] = widened(value, value, 2.0**-24, 0.0)
            elif node.operation == "input":
                known[number] = widened(inputs[node.value], inputs[node.value], 2.0**-24, 0.0)
            else:
                known[number] = widened(*RULES[node.operation](*(known[argument] for argument in node.arguments)))
    return {number: known[number] for number in wanted}
