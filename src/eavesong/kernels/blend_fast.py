"""The formulas of `blend` on single float32 values: the same functions, compiled with lanes for their words."""

from __future__ import annotations

from types import FunctionType
from typing import Any

from numpy import float32

from eavesong.kernels import blend, fast, lanes


def _compiled() -> dict[str, Any]:
    """Every function that stands in `blend`, as a lane, by name."""
    words: dict[str, Any] = {
        "f": float32, "select": lanes.select, "min": fast.min, "max": fast.max, "sqrt": fast.sqrt,
    }  # fmt: skip
    functions = [entry for entry in vars(blend).values() if isinstance(entry, FunctionType)]
    own = [function for function in functions if function.__module__ == blend.__name__]
    for function in own:
        words[function.__name__] = fast.lane(FunctionType(function.__code__, words, function.__name__))
    return {function.__name__: words[function.__name__] for function in own}


globals().update(_compiled())
