"""Between which bounds the values of a program lie, so that only what can leave the range of single numbers is held.

Every value of a program is held within ±LARGEST. Holding costs two machine operations a value, and nearly no value
needs it: the bounds of inputs and parameters are known, and every operation passes bounds on (interval arithmetic,
R. E. Moore, "Interval Analysis", 1966). An operation without a rule may give anything, so it is held.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from eavesong.kernels.exact import LARGEST

SAFE = 2e38
"""What stays within this needs no holding: rounding never carries it to the end of the range."""

Range = tuple[float, float]
"""The least and the most."""

ANY: Range = (-math.inf, math.inf)


def held(bounds: Range) -> Range:
    """The bounds of a value once it is held."""
    return max(bounds[0], -LARGEST), min(bounds[1], LARGEST)


def is_safe(operation: str, bounds: Range) -> bool:
    """Whether what ``operation`` gives, within these bounds, never leaves the range."""
    return size(bounds) <= (LARGEST if operation in _UNROUNDED else SAFE)


def size(bounds: Range) -> float:
    """The largest size of a value."""
    return max(-bounds[0], bounds[1])


def range_of(operation: str, arguments: tuple[Range, ...]) -> Range:
    """The bounds of what ``operation`` gives, before it is held, for finite ``arguments`` within theirs."""
    fixed = _FIXED.get(operation)
    return fixed if fixed is not None else _RULES.get(operation, _anything)(*arguments)


def _anything(*arguments: Range) -> Range:
    return ANY


def _hull(*values: float) -> Range:
    return min(values), max(values)


def _add(x: Range, y: Range) -> Range:
    return x[0] + y[0], x[1] + y[1]


def _negate(x: Range) -> Range:
    return -x[1], -x[0]


def _subtract(x: Range, y: Range) -> Range:
    return _add(x, _negate(y))


def _multiply(x: Range, y: Range) -> Range:
    return _hull(*(a * b for a in x for b in y))


def _divide(x: Range, y: Range) -> Range:
    if y == (0.0, 0.0):
        return (0.0, 0.0)
    if y[0] < 2.0**-126 and y[1] > -(2.0**-126):
        return ANY
    return _multiply(x, (1 / y[1], 1 / y[0]))


def _mod(x: Range, y: Range) -> Range:
    return min(y[0], 0.0), max(y[1], 0.0)


def _min(x: Range, y: Range) -> Range:
    return min(x[0], y[0]), min(x[1], y[1])


def _max(x: Range, y: Range) -> Range:
    return max(x[0], y[0]), max(x[1], y[1])


def _clamp(x: Range, low: Range, high: Range) -> Range:
    return _min(_max(x, low), high)


def _mix(x: Range, y: Range, amount: Range) -> Range:
    if amount[0] >= 0 and amount[1] <= 1:
        return _hull(*x, *y)
    return _add(_multiply(x, _subtract((1.0, 1.0), amount)), _multiply(y, amount))


def _either(condition: Range, x: Range, y: Range) -> Range:
    return _hull(*x, *y)


def _whole(x: Range) -> Range:
    return float(math.floor(x[0])), float(math.ceil(x[1]))


def _abs(x: Range) -> Range:
    return (0.0 if x[0] <= 0 <= x[1] else min(abs(x[0]), abs(x[1]))), size(x)


def _sqrt(x: Range) -> Range:
    return math.sqrt(max(x[0], 0.0)), math.sqrt(max(x[1], 0.0))


def _exp2(x: Range) -> Range:
    return 2.0 ** min(max(x[0], -126.0), 127.0), 2.0 ** min(max(x[1], -126.0), 127.0)


def _exp(x: Range) -> Range:
    return _exp2(_multiply(x, (math.log2(math.e),) * 2))


def _log2(x: Range) -> Range:
    return math.log2(max(x[0], 2.0**-126)), math.log2(max(x[1], 2.0**-126))


def _log(x: Range) -> Range:
    return _multiply(_log2(x), (math.log(2),) * 2)


def _pow(x: Range, y: Range) -> Range:
    most = max(1.0, _exp2(_multiply(_log2(_abs(x)), y))[1])
    return (0.0 if x[0] >= 0 else -most), most


def _length(*axes: Range) -> Range:
    return 0.0, math.sqrt(sum(size(axis) ** 2 for axis in axes))


_UNIT: Range = (0.0, 1.0)
_FIXED: dict[str, Range] = {
    **dict.fromkeys(
        (
            "less", "less_equal", "equal", "step", "smoothstep", "fract", "srgb_decode", "hash1", "hash2", "hash3",
            "noise1", "noise2", "noise3", "palette", "spectrum", "unit",
        ),
        _UNIT,
    ),
    **dict.fromkeys(("sign", "sin", "cos"), (-1.0, 1.0)),
    **dict.fromkeys(("asin", "acos", "atan"), (-4.0, 4.0)),
    **dict.fromkeys(("hash_high", "hash_low"), (0.0, 65535.0)),
    "wrap": (-0.5, 0.5),
    "inversesqrt": (0.0, 2.0**75),
}  # fmt: skip
"""Bounds that do not depend on the arguments; 2**75 is the inverse root of the smallest single number, 2**-149."""

_UNROUNDED = (
    "literal", "parameter", "abs", "negate", "min", "max", "clamp", "select", "mod", "floor", "ceil", "trunc", "round",
)  # fmt: skip
"""Operations that pass on one of their arguments, or less of it."""

_RULES: dict[str, Callable[..., Range]] = {
    "add": _add,
    "subtract": _subtract,
    "negate": _negate,
    "multiply": _multiply,
    "divide": _divide,
    "mod": _mod,
    "min": _min,
    "max": _max,
    "clamp": _clamp,
    "mix": _mix,
    "select": _either,
    "abs": _abs,
    "sqrt": _sqrt,
    "exp2": _exp2,
    "exp": _exp,
    "log2": _log2,
    "log": _log,
    "pow": _pow,
    **dict.fromkeys(("floor", "ceil", "trunc", "round"), _whole),
    **dict.fromkeys(("length2", "length3"), _length),
}
