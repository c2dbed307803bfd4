"""Folding: operations whose result is known before anything runs, and identities that hold for every number.

Rewrites, all exact: an operation on literals is computed by its float64 reference; ``x + 0``, ``x - 0``, ``x * 1``,
``x / 1`` are x; ``x * 0`` and ``0 / x`` are 0; ``x - x`` is 0; ``-(-x)`` is x; ``x ** 2`` and small whole powers
are products; ``a / literal`` is a product; a choice with a known condition is its branch; and in a periodic
function (sin, fract, wrap, a remainder, …) the part of the argument that only the frame decides is reduced to one
period, in float64, so that an hour of beats costs no precision in the float32 inner loop.
"""

from __future__ import annotations

import numpy as np

from eavesong.language.builtins import CONSTANT, FRAME, LOOK_UPS, OPERATIONS, PIXEL
from eavesong.language.graph import Graph, Parts

LARGEST_PRODUCT = 4
"""Whole powers up to this are multiplied out."""


def folded(graph: Graph, operation: str, arguments: tuple[int, ...]) -> int | None:
    """The simpler node that equals ``operation`` of ``arguments``, or None when there is none."""
    numbers = [graph.number(argument) for argument in arguments]
    if operation in OPERATIONS and operation not in LOOK_UPS and None not in numbers:
        values = [np.float64(number) for number in numbers if number is not None]
        with np.errstate(all="ignore"):
            return graph.literal(float(OPERATIONS[operation].exact(*values)))
    rewrite = _REWRITES.get(operation)
    if rewrite is not None:
        return rewrite(graph, arguments, numbers)
    period = _period(graph, operation, arguments)
    return None if period is None else _reduce_period(graph, operation, arguments, period)


def _add(graph: Graph, arguments: tuple[int, ...], numbers: list[float | None]) -> int | None:
    if numbers[0] == 0:
        return arguments[1]
    return arguments[0] if numbers[1] == 0 else None


def _subtract(graph: Graph, arguments: tuple[int, ...], numbers: list[float | None]) -> int | None:
    if arguments[0] == arguments[1]:
        return graph.literal(0.0)
    if numbers[0] == 0:
        return graph.add("negate", arguments[1])
    return arguments[0] if numbers[1] == 0 else None


def _multiply(graph: Graph, arguments: tuple[int, ...], numbers: list[float | None]) -> int | None:
    for one, other in ((0, 1), (1, 0)):
        if numbers[one] == 0:
            return graph.literal(0.0)
        if numbers[one] == 1:
            return arguments[other]
        if numbers[one] == -1:
            return graph.add("negate", arguments[other])
    return None


def _divide(graph: Graph, arguments: tuple[int, ...], numbers: list[float | None]) -> int | None:
    top, bottom = numbers
    if top == 0 or bottom == 0:
        return graph.literal(0.0)
    if bottom is not None:
        return graph.add("multiply", arguments[0], graph.literal(1.0 / bottom))
    if graph.rates[arguments[1]] < graph.rates[arguments[0]] and top is None:
        # One division at the slower rate, then a multiplication in the faster loop. 1/0 is 0, as is x/0.
        return graph.add("multiply", arguments[0], graph.add("divide", graph.literal(1.0), arguments[1]))
    return None


def _negate(graph: Graph, arguments: tuple[int, ...], numbers: list[float | None]) -> int | None:
    inner = graph.nodes[arguments[0]]
    return inner.arguments[0] if inner.operation == "negate" else None


def _pow(graph: Graph, arguments: tuple[int, ...], numbers: list[float | None]) -> int | None:
    power = numbers[1]
    if power is None or power != int(power) or not 0 <= power <= LARGEST_PRODUCT:
        return None
    product = graph.literal(1.0)
    for _ in range(int(power)):
        product = graph.add("multiply", product, arguments[0])
    return product


def _select(graph: Graph, arguments: tuple[int, ...], numbers: list[float | None]) -> int | None:
    if numbers[0] is not None:
        return arguments[1] if numbers[0] != 0 else arguments[2]
    return arguments[1] if arguments[1] == arguments[2] else None


def _mix(graph: Graph, arguments: tuple[int, ...], numbers: list[float | None]) -> int | None:
    if numbers[2] == 0:
        return arguments[0]
    return arguments[1] if numbers[2] == 1 else None


_REWRITES = {
    "add": _add,
    "subtract": _subtract,
    "multiply": _multiply,
    "divide": _divide,
    "negate": _negate,
    "pow": _pow,
    "select": _select,
    "mix": _mix,
}


def _period(graph: Graph, operation: str, arguments: tuple[int, ...]) -> int | None:
    """The node of the number that may be added to the first argument and change nothing."""
    if operation == "mod":
        return arguments[1] if graph.rates[arguments[1]] == CONSTANT else None
    period = OPERATIONS[operation].period if operation in OPERATIONS else None
    return None if period is None else graph.literal(period)


def _reduce_period(graph: Graph, operation: str, arguments: tuple[int, ...], period: int) -> int | None:
    """``f(pixel + frame)`` as ``f(pixel + frame mod period)`` where the sum can be told apart."""
    if graph.rates[arguments[0]] != FRAME | PIXEL:
        return None
    frame, rest = _parted(graph, arguments[0])
    if frame is None or rest is None or graph.rates[frame] == CONSTANT or _is_reduced(graph, frame, period):
        return None
    reduced = graph.add("mod", frame, period)
    return graph.add(operation, graph.add("add", rest, reduced), *arguments[1:])


def _is_reduced(graph: Graph, node: int, period: int) -> bool:
    inner = graph.nodes[node]
    return inner.operation == "mod" and inner.arguments[1] == period


def _parted(graph: Graph, node: int) -> Parts:
    """The parts of a sum."""
    return graph.settle(node, graph.parts, lambda one: _terms(graph, one), lambda one: _parts(graph, one))


def _terms(graph: Graph, node: int) -> tuple[int, ...]:
    """What is added up in ``node``; nothing when it is no sum of frame and pixel values."""
    inner = graph.nodes[node]
    if graph.rates[node] != FRAME | PIXEL:
        return ()
    if inner.operation in ("add", "subtract", "negate"):
        return inner.arguments
    if inner.operation == "multiply":
        scaled = [argument for argument in inner.arguments if graph.rates[argument] != CONSTANT]
        return tuple(scaled) if len(scaled) == 1 else ()
    return ()


def _parts(graph: Graph, node: int) -> Parts:
    """The parts of a sum whose terms have been taken apart."""
    terms = _terms(graph, node)
    inner = graph.nodes[node]
    if not terms:
        return (None, node) if graph.rates[node] & PIXEL else (node, None)
    if inner.operation in ("add", "subtract"):
        left, right = (graph.parts[term] for term in terms)
        return _joined(graph, inner.operation, left[0], right[0]), _joined(graph, inner.operation, left[1], right[1])
    factor = graph.literal(-1.0)
    if inner.operation == "multiply":
        (factor,) = set(inner.arguments) - {terms[0]}
    frame, rest = graph.parts[terms[0]]
    return _scaled(graph, frame, factor), _scaled(graph, rest, factor)


def _joined(graph: Graph, operation: str, left: int | None, right: int | None) -> int | None:
    if right is None:
        return left
    if left is None:
        return graph.add("negate", right) if operation == "subtract" else right
    return graph.add(operation, left, right)


def _scaled(graph: Graph, node: int | None, factor: int) -> int | None:
    return None if node is None else graph.add("multiply", node, factor)
