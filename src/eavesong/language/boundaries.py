"""What draws a boundary, each averaged over the stretch that one pixel stands for.

A profile f(p) is drawn at a pixel as the mean of f over ``p - w/2 .. p + w/2``, w the pixel's footprint in p: the
difference of the profile's antiderivative at the two ends, divided by w. Pixels that lie edge to edge thus share
out the whole integral of the profile between them, wherever it stands, so that a band narrower than the distance
between pixels moves smoothly and keeps its energy. (Area sampling with a box filter, as in E. Catmull, "A hidden-
surface algorithm with anti-aliasing", 1978.)

Hard ends (box, tail, edge, stripes) are drawn with the true footprint, however fine: as ramps one footprint wide, whose
ends are clamped, so that no two nearly equal float32 numbers are subtracted where the shape is evenly lit. A soft band
has no end that could be smeared; its footprint is taken as at least 1/128 of its width, which changes no value by more
than 1e-4 (its steepest curvature, 32 / width², times that footprint squared, over 24).
"""

from __future__ import annotations

from collections.abc import Callable

from eavesong.language.graph import Graph
from eavesong.language.slope import footprint

SMALLEST_SHARE = 1 / 128
"""Smallest footprint of a soft band, as a share of its width."""

SMALLEST = 1e-6
"""Smallest footprint of a hard end: for coordinates that do not change from pixel to pixel."""


class _Sums:
    """Arithmetic on nodes, so that the formulas below read as formulas."""

    def __init__(self, graph: Graph) -> None:
        self.graph = graph

    def __call__(self, operation: str, *arguments: int | float) -> int:
        nodes = (argument if isinstance(argument, int) else self.graph.literal(argument) for argument in arguments)
        return self.graph.add(operation, *nodes)


def band(graph: Graph, p: int, centre: int, width: int) -> int:
    """(1 - q²)², q = 2 (p - centre) / width, 0 outside: antiderivative q - 2/3 q³ + 1/5 q⁵, times width / 2."""
    sums = _Sums(graph)
    half = sums("multiply", width, 0.5)
    scale = sums("divide", 1.0, half)

    def antiderivative(at: int) -> int:
        """The integral of (1 - q²)² up to ``at``, in the band's own measure."""
        q = sums("clamp", sums("multiply", at, scale), -1.0, 1.0)
        square = sums("multiply", q, q)
        inner = sums("add", sums("multiply", square, 0.2), -2 / 3)
        return sums("multiply", half, sums("multiply", q, sums("add", sums("multiply", square, inner), 1.0)))

    distance = sums("subtract", p, centre)
    covered = sums("max", footprint(graph, distance), sums("multiply", width, SMALLEST_SHARE))
    reach = sums("multiply", covered, 0.5)
    total = sums(
        "subtract", antiderivative(sums("add", distance, reach)), antiderivative(sums("subtract", distance, reach))
    )
    share = sums("select", sums("less", 0.0, width), sums("divide", 1.0, covered), 0.0)
    return sums("multiply", total, share)


def _footprint(sums: _Sums, p: int) -> int:
    return sums("max", footprint(sums.graph, p), SMALLEST)


def _above(sums: _Sums, distance: int, covered: int) -> int:
    """The share of the footprint round ``distance`` that lies above 0."""
    return sums("clamp", sums("add", sums("divide", distance, covered), 0.5), 0.0, 1.0)


def edge(graph: Graph, p: int, at: int) -> int:
    """0 below, 1 above: the share of the footprint above the edge, a ramp one footprint wide."""
    sums = _Sums(graph)
    distance = sums("subtract", p, at)
    return _above(sums, distance, _footprint(sums, distance))


def box(graph: Graph, p: int, centre: int, width: int) -> int:
    """1 within half the width of the centre: what lies above its lower end, less what lies above its upper end."""
    sums = _Sums(graph)
    distance, half = sums("subtract", p, centre), sums("multiply", width, 0.5)
    covered = _footprint(sums, distance)
    lower = _above(sums, sums("add", distance, half), covered)
    upper = _above(sums, sums("subtract", distance, half), covered)
    return sums("max", sums("subtract", lower, upper), 0.0)


def tail(graph: Graph, p: int, head: int, reach: int) -> int:
    """s², s the way above head - reach as a share of reach, 0 past the head.

    The share of the footprint that lies in the tail, times the mean of s² there, (a² + a b + b²) / 3 between a and b.
    """
    sums = _Sums(graph)
    distance = sums("subtract", p, head)
    covered = _footprint(sums, distance)
    lower = _above(sums, sums("add", distance, reach), covered)
    within = sums("max", sums("subtract", lower, _above(sums, distance, covered)), 0.0)
    scale, apart = sums("divide", 1.0, reach), sums("multiply", covered, 0.5)

    def way(at: int) -> int:
        """How far along the tail ``at`` is, from 0 to 1."""
        return sums("clamp", sums("add", sums("multiply", at, scale), 1.0), 0.0, 1.0)

    a, b = way(sums("subtract", distance, apart)), way(sums("add", distance, apart))
    squares = sums("add", sums("multiply", a, a), sums("multiply", b, sums("add", a, b)))
    return sums("multiply", within, sums("multiply", squares, 1 / 3))


def stripes(graph: Graph, p: int, share: int) -> int:
    """1 where fract(p) < share: what of the footprint lies in the first stripe, from s in 0..1, and what past 1."""
    sums = _Sums(graph)
    share = sums("clamp", share, 0.0, 1.0)
    covered = _footprint(sums, p)
    start = sums("fract", sums("subtract", p, sums("multiply", covered, 0.5)))
    first = sums("min", sums("max", sums("subtract", share, start), 0.0), covered)
    past = sums("subtract", start, sums("subtract", 1.0, covered))
    rest = sums("add", sums("multiply", share, sums("floor", past)), sums("min", sums("fract", past), share))
    return sums("min", sums("divide", sums("add", first, sums("max", rest, 0.0)), covered), 1.0)


BOUNDARIES: dict[str, Callable[..., int]] = {
    "band": band,
    "box": box,
    "tail": tail,
    "edge": edge,
    "stripes": stripes,
}
