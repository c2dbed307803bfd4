"""The formulas of `blend` on single float32 values: the same functions, with `words` for their words."""

from __future__ import annotations

from types import FunctionType
from typing import Any

from numpy import float32

from eavesong.kernels import blend, fast, words


def _compiled() -> dict[str, Any]:
    """Every function that stands in `blend`, in these words, by name."""
    given: dict[str, Any] = {
        "f": float32, "select": words.select, "min": fast.min, "max": fast.max, "sqrt": fast.sqrt,
    }  # fmt: skip
    functions = [entry for entry in vars(blend).values() if isinstance(entry, FunctionType)]
    own = [function for function in functions if function.__module__ == blend.__name__]
    for function in own:
        given[function.__name__] = FunctionType(function.__code__, given, function.__name__)
    return {function.__name__: given[function.__name__] for function in own}


globals().update(_compiled())
