"""How much a value changes from one pixel to the next: the chain rule, along the wire and across to the next wire.

This is what keeps anything from falling between pixels: a boundary is averaged over the stretch of its coordinate
that one pixel stands for. Layouts give the change of each coordinate over one pixel ("step_along" the wire,
"step_across" to the wires lying beside it); every operation passes it on. Where an operation has no rule of its own
the change is the difference of its values half a pixel either way. Jumps count as no change, so that a repeated
pattern is not blurred where it starts again.
"""

from __future__ import annotations

from collections.abc import Callable

from eavesong.language.builtins import PIXEL, VARYING_ALONG_WIRE
from eavesong.language.graph import Graph, Node

Direction = str
"""``step_along`` (the wire) or ``step_across`` (to the wire beside)."""


def footprint(graph: Graph, node: int) -> int:
    """The change of ``node`` over one pixel, along the wire and across added up, never negative."""
    along = graph.add("abs", slope(graph, node, "step_along"))
    return graph.add("add", along, graph.add("abs", slope(graph, node, "step_across")))


def slope(graph: Graph, node: int, direction: Direction) -> int:
    """The signed change of ``node`` over one pixel in ``direction``."""
    known = graph.slopes.setdefault(direction, {})

    def below(number: int) -> tuple[int, ...]:
        """The arguments of a node through which pixels differ."""
        return graph.nodes[number].arguments if graph.rates[number] & PIXEL else ()

    return graph.settle(node, known, below, lambda number: _slope(graph, number, direction, known))


def _slope(graph: Graph, node: int, direction: Direction, known: dict[int, int]) -> int:
    if not graph.rates[node] & PIXEL:
        return graph.literal(0.0)
    inner = graph.nodes[node]
    if inner.operation == "input":
        name = str(inner.value)
        return graph.read(direction, name) if name in VARYING_ALONG_WIRE else graph.literal(0.0)
    changes = tuple(known[argument] for argument in inner.arguments)
    if all(graph.number(change) == 0 for change in changes):
        return graph.literal(0.0)
    rule = _RULES.get(inner.operation, _difference)
    return rule(graph, inner, changes)


def _difference(graph: Graph, inner: Node, changes: tuple[int, ...]) -> int:
    """Half a pixel either way."""
    half = graph.literal(0.5)
    ends = []
    for way in ("add", "subtract"):
        moved = (
            graph.add(way, argument, graph.add("multiply", change, half))
            for argument, change in zip(inner.arguments, changes, strict=True)
        )
        ends.append(graph.add(inner.operation, *moved, value=inner.value))
    return graph.add("subtract", *ends)


def _none(graph: Graph, inner: Node, changes: tuple[int, ...]) -> int:
    return graph.literal(0.0)


def _same(graph: Graph, inner: Node, changes: tuple[int, ...]) -> int:
    """The sum and difference of changes, and functions that jump back but otherwise run in step (fract, mod)."""
    return graph.add(inner.operation, *changes) if inner.operation in ("add", "subtract", "negate") else changes[0]


def _product(graph: Graph, inner: Node, changes: tuple[int, ...]) -> int:
    left, right = inner.arguments
    return graph.add("add", graph.add("multiply", changes[0], right), graph.add("multiply", changes[1], left))


def _quotient(graph: Graph, inner: Node, changes: tuple[int, ...]) -> int:
    top, bottom = inner.arguments
    lost = graph.add("multiply", graph.add("divide", top, bottom), changes[1])
    return graph.add("divide", graph.add("subtract", changes[0], lost), bottom)


def _either(graph: Graph, inner: Node, changes: tuple[int, ...]) -> int:
    """min and max: the change of whichever is chosen."""
    left, right = inner.arguments
    first = graph.add("less", left, right) if inner.operation == "min" else graph.add("less", right, left)
    return graph.add("select", first, *changes)


def _absolute(graph: Graph, inner: Node, changes: tuple[int, ...]) -> int:
    return graph.add("multiply", graph.add("sign", inner.arguments[0]), changes[0])


def _clamped(graph: Graph, inner: Node, changes: tuple[int, ...]) -> int:
    value, low, high = inner.arguments
    inside = graph.add("multiply", graph.add("less_equal", low, value), graph.add("less_equal", value, high))
    return graph.add("multiply", inside, changes[0])


def _chosen(graph: Graph, inner: Node, changes: tuple[int, ...]) -> int:
    return graph.add("select", inner.arguments[0], changes[1], changes[2])


def _distance(graph: Graph, inner: Node, changes: tuple[int, ...]) -> int:
    """length: the share of the change that points away from the origin."""
    total = graph.literal(0.0)
    for argument, change in zip(inner.arguments, changes, strict=True):
        total = graph.add("add", total, graph.add("multiply", argument, change))
    return graph.add("divide", total, graph.add(inner.operation, *inner.arguments))


def _angle(graph: Graph, inner: Node, changes: tuple[int, ...]) -> int:
    """atan(y, x), whose jump at the back of the circle is no change: (x dy - y dx) / (x² + y²)."""
    up, across = inner.arguments
    turned = graph.add("subtract", graph.add("multiply", across, changes[0]), graph.add("multiply", up, changes[1]))
    squares = [graph.add("multiply", side, side) for side in (up, across)]
    return graph.add("divide", turned, graph.add("add", *squares))


_RULES: dict[str, Callable[[Graph, Node, tuple[int, ...]], int]] = {
    **dict.fromkeys(("add", "subtract", "negate", "fract", "wrap", "mod"), _same),
    **dict.fromkeys(
        (
            "floor",
            "ceil",
            "trunc",
            "round",
            "sign",
            "step",
            "less",
            "less_equal",
            "equal",
            "hash1",
            "hash2",
            "hash3",
        ),
        _none,
    ),
    **dict.fromkeys(("min", "max"), _either),
    **dict.fromkeys(("length2", "length3"), _distance),
    "multiply": _product,
    "divide": _quotient,
    "abs": _absolute,
    "clamp": _clamped,
    "select": _chosen,
    "atan": _angle,
}
