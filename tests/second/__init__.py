"""The effect language once more, written from docs/language.md alone: plain Python, one pixel in one moment at a time.

It shares no line with the compiler: a reader of its own, expressions as nested tuples, the change over one pixel by
deriving them, and the formulas of the manual. Slow; the vectors in ``tests/cases/vectors`` are worked out with it.
"""

from __future__ import annotations

import math
from typing import Any

from second.reading import Reader, lines
from second.trees import number
from second.values import held, palette, value

__all__ = ["palette", "run"]


def run(code: str, parameters: dict[str, Any], given: dict[str, dict[str, Any]]) -> list[float]:
    """Level, red, green and blue, before they are held within 0 and 1."""
    names: dict[str, Any] = {"pi": number(math.pi)}
    for name, setting in parameters.items():
        names[name] = [number(held(c)) for c in setting] if isinstance(setting, list) else ("input", name)
    numbers = {name: held(setting) for name, setting in parameters.items() if not isinstance(setting, list)}
    for name, expression in lines(code):
        names[name] = Reader(expression, names).choice()
    known: dict[int, float] = {}
    given = given | {"input": given["input"] | numbers}
    return [value(tree, given, known) for tree in (names["level"], *names["colour"])]
