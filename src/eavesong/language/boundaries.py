"""What draws a boundary, each averaged over the stretch that one pixel stands for.

A profile f(p) is drawn at a pixel as the mean of f over ``p - w/2 .. p + w/2``, w the pixel's footprint in p: the
difference of the profile's antiderivative at the two ends, divided by w. Pixels that lie edge to edge thus share
out the whole integral of the profile between them, wherever it stands, so that a band narrower than the distance
between pixels moves smoothly and keeps its energy. (Area sampling with a box filter, as in E. Catmull, "A hidden-
surface algorithm with anti-aliasing", 1978.)

The footprint is never taken smaller than a small share of the profile's own width, which keeps the difference of
two nearly equal float32 numbers accurate and is far below what can be seen.
"""

from __future__ import annotations

from collections.abc import Callable

from eavesong.language.graph import Graph
from eavesong.language.slope import footprint

SMALLEST_SHARE = 1 / 128
"""Smallest footprint, as a share of the profile's own width."""

SMALLEST_EDGE = 1e-5
"""Smallest footprint of an edge, which has no width of its own."""


class _Sums:
    """Arithmetic on nodes, so that the formulas below read as formulas."""

    def __init__(self, graph: Graph) -> None:
        self.graph = graph

    def __call__(self, operation: str, *arguments: int | float) -> int:
        nodes = (argument if isinstance(argument, int) else self.graph.literal(argument) for argument in arguments)
        return self.graph.add(operation, *nodes)


def _mean(sums: _Sums, distance: int, width: int, antiderivative: Callable[[int], int], smallest: int) -> int:
    """Mean of a profile over the footprint of ``distance``; 0 where ``width`` is not above 0."""
    covered = sums("max", footprint(sums.graph, distance), smallest)
    half = sums("multiply", covered, 0.5)
    above = antiderivative(sums("add", distance, half))
    below = antiderivative(sums("subtract", distance, half))
    share = sums("select", sums("less", 0.0, width), sums("divide", 1.0, covered), 0.0)
    return sums("multiply", sums("subtract", above, below), share)


def band(graph: Graph, p: int, centre: int, width: int) -> int:
    """(1 - q²)², q = 2 (p - centre) / width, 0 outside: antiderivative q - 2/3 q³ + 1/5 q⁵, times width / 2."""
    sums = _Sums(graph)
    half = sums("multiply", width, 0.5)
    scale = sums("divide", 1.0, half)

    def antiderivative(at: int) -> int:
        q = sums("clamp", sums("multiply", at, scale), -1.0, 1.0)
        square = sums("multiply", q, q)
        inner = sums("add", sums("multiply", square, 0.2), -2 / 3)
        return sums("multiply", half, sums("multiply", q, sums("add", sums("multiply", square, inner), 1.0)))

    smallest = sums("multiply", width, SMALLEST_SHARE)
    return _mean(sums, sums("subtract", p, centre), width, antiderivative, smallest)


def box(graph: Graph, p: int, centre: int, width: int) -> int:
    """1 within half the width of the centre: antiderivative is the distance held within half the width."""
    sums = _Sums(graph)
    half = sums("multiply", width, 0.5)
    low = sums("negate", half)
    smallest = sums("multiply", width, SMALLEST_SHARE)
    return _mean(sums, sums("subtract", p, centre), width, lambda at: sums("clamp", at, low, half), smallest)


def tail(graph: Graph, p: int, head: int, reach: int) -> int:
    """(s / reach)², s the way above head - reach, 0 past the head: antiderivative s³ / (3 reach²)."""
    sums = _Sums(graph)
    scale = sums("divide", 1.0, reach)
    third = sums("multiply", reach, 1 / 3)

    def antiderivative(at: int) -> int:
        s = sums("clamp", sums("add", sums("multiply", at, scale), 1.0), 0.0, 1.0)
        return sums("multiply", third, sums("multiply", s, sums("multiply", s, s)))

    smallest = sums("multiply", reach, SMALLEST_SHARE)
    return _mean(sums, sums("subtract", p, head), reach, antiderivative, smallest)


def edge(graph: Graph, p: int, at: int) -> int:
    """0 below, 1 above: antiderivative max(distance, 0), which leaves a ramp one footprint wide."""
    sums = _Sums(graph)
    distance = sums("subtract", p, at)
    covered = sums("max", footprint(graph, distance), SMALLEST_EDGE)
    return sums("clamp", sums("add", sums("divide", distance, covered), 0.5), 0.0, 1.0)


def stripes(graph: Graph, p: int, share: int) -> int:
    """1 where fract(p) < share: antiderivative share * floor(p) + min(fract(p), share)."""
    sums = _Sums(graph)
    share = sums("clamp", share, 0.0, 1.0)
    covered = sums("max", footprint(graph, p), SMALLEST_SHARE)
    start = sums("fract", sums("subtract", p, sums("multiply", covered, 0.5)))
    end = sums("add", start, covered)
    whole = sums("multiply", share, sums("floor", end))
    upper = sums("add", whole, sums("min", sums("fract", end), share))
    return sums("divide", sums("subtract", upper, sums("min", start, share)), covered)


BOUNDARIES: dict[str, Callable[..., int]] = {
    "band": band,
    "box": box,
    "tail": tail,
    "edge": edge,
    "stripes": stripes,
}
