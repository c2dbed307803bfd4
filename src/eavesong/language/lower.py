"""From checked trees to the graph: colours become three numbers, functions become operations."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from eavesong.colours import LAB_TO_ROOTS, LMS_TO_LINEAR
from eavesong.language.boundaries import BOUNDARIES
from eavesong.language.builtins import FUNCTIONS, INPUTS, NAMED_NUMBERS, OPERATORS, Kind
from eavesong.language.fold import folded
from eavesong.language.graph import Graph
from eavesong.language.parse import Assignment, Call, Number, Tree
from eavesong.language.ranges import Range
from eavesong.language.slope import footprint

Value = tuple[int, ...]
"""One node for a number, three for a colour in linear light."""

DEGREE = NAMED_NUMBERS["pi"] / 180.0


def lower(
    assignments: tuple[Assignment, ...],
    parameters: Mapping[str, Kind],
    bounds: Mapping[str, Range] | None = None,
    moving: frozenset[str] = frozenset(),
) -> tuple[Graph, tuple[int, ...]]:
    """The graph of a checked program and its outputs: level, red, green, blue, each to be held within 0 and 1.

    bounds: between which numbers parameters are set, where that is known; a colour's as ``name.0`` to ``name.2``.
    moving: those that change from frame to frame, named alike.
    """
    graph = Graph(simplify=folded, bounds=bounds or {}, moving=moving)
    lowerer = _Lowerer(graph, parameters)
    for assignment in assignments:
        value = lowerer.value(assignment.tree)
        lowerer.known[assignment.name] = value
        parts = (assignment.name,) if len(value) == 1 else tuple(f"{assignment.name}_{part}" for part in "rgb")
        for node, name in zip(value, parts, strict=True):
            if graph.number(node) is None and graph.nodes[node].operation != "input":
                graph.names.setdefault(node, name)
    outputs = lowerer.known["level"] + lowerer.known["colour"]
    return graph, outputs


class _Lowerer:
    def __init__(self, graph: Graph, parameters: Mapping[str, Kind]) -> None:
        self.graph = graph
        self.parameters = parameters
        self.known: dict[str, Value] = {}

    def value(self, tree: Tree) -> Value:
        """The nodes of a tree. Long sums lean to the left, so first arguments are followed without recursion."""
        calls: list[Call] = []
        while isinstance(tree, Call):
            calls.append(tree)
            tree = tree.arguments[0]
        value = (self.graph.literal(tree.value),) if isinstance(tree, Number) else self.name(tree.name)
        for call in reversed(calls):
            value = self.call(call.name, [value, *(self.value(argument) for argument in call.arguments[1:])])
        return value

    def name(self, name: str) -> Value:
        """The nodes of what a name stands for."""
        if name in self.known:
            return self.known[name]
        if name in self.parameters:
            if self.parameters[name] == "colour":
                return tuple(self.graph.read("parameter", f"{name}.{channel}") for channel in range(3))
            return (self.graph.read("parameter", name),)
        if name in INPUTS:
            return (self.graph.read("input", name),)
        return (self.graph.literal(NAMED_NUMBERS[name]),)

    def call(self, name: str, values: list[Value]) -> Value:
        """The nodes of an operator or function of ``values``, channel by channel where one is a colour."""
        name = OPERATORS.get(name, name)
        special = getattr(self, f"_{name}", None)
        if special is not None:
            lowered: Value = special(*values)
            return lowered
        if name in BOUNDARIES:
            return (BOUNDARIES[name](self.graph, *(value[0] for value in values)),)
        if name in FUNCTIONS:
            name = FUNCTIONS[name].operation(len(values))
        channels = max(len(value) for value in values)
        return tuple(
            self.graph.add(name, *(value[channel if len(value) > 1 else 0] for value in values))
            for channel in range(channels)
        )

    def add(self, operation: str, *arguments: int | float) -> int:
        """A node from nodes and plain numbers."""
        nodes = (argument if isinstance(argument, int) else self.graph.literal(argument) for argument in arguments)
        return self.graph.add(operation, *nodes)

    # --- operators and functions that are not one operation ----------------------------------------------------

    def _greater(self, left: Value, right: Value) -> Value:
        return (self.add("less", right[0], left[0]),)

    def _greater_equal(self, left: Value, right: Value) -> Value:
        return (self.add("less_equal", right[0], left[0]),)

    def _not_equal(self, left: Value, right: Value) -> Value:
        return (self.add("subtract", 1.0, self.add("equal", left[0], right[0])),)

    def _not(self, value: Value) -> Value:
        return (self.add("equal", value[0], 0.0),)

    def _and(self, left: Value, right: Value) -> Value:
        return (self.add("select", left[0], self._truth(right[0]), 0.0),)

    def _or(self, left: Value, right: Value) -> Value:
        return (self.add("select", left[0], 1.0, self._truth(right[0])),)

    def _truth(self, node: int) -> int:
        return self.add("subtract", 1.0, self.add("equal", node, 0.0))

    def _select(self, condition: Value, chosen: Value, other: Value) -> Value:
        return tuple(self.graph.add("select", condition[0], *pair) for pair in zip(chosen, other, strict=True))

    def _atan(self, up: Value, across: Value | None = None) -> Value:
        return (self.add("atan", up[0], across[0] if across else 1.0),)

    def _radians(self, value: Value) -> Value:
        return (self.add("multiply", value[0], DEGREE),)

    def _degrees(self, value: Value) -> Value:
        return (self.add("multiply", value[0], 1.0 / DEGREE),)

    def _distance(self, x1: Value, y1: Value, x2: Value, y2: Value) -> Value:
        return (self.add("length2", self.add("subtract", x1[0], x2[0]), self.add("subtract", y1[0], y2[0])),)

    def _fwidth(self, value: Value) -> Value:
        return (footprint(self.graph, value[0]),)

    # --- events ------------------------------------------------------------------------------------------------

    def _ringing(self, strength: Value, age: Value, beats: Value) -> Value:
        """(1 - age / beats)² of the strength; nothing where it rings for no time at all."""
        left = self._less_one(self.add("min", 1.0, self.add("divide", age[0], beats[0])))
        rung = self.add("multiply", strength[0], self.add("multiply", left, left))
        return (self.add("select", self.add("less", 0.0, beats[0]), rung, 0.0),)

    def _event(self, label: str, beats: Value) -> Value:
        return self._ringing(self.name(f"{label}_strength"), self.name(f"{label}_age"), beats)

    def _low_stroke(self, beats: Value) -> Value:
        return self._event("low", beats)

    def _middle_stroke(self, beats: Value) -> Value:
        return self._event("middle", beats)

    def _high_stroke(self, beats: Value) -> Value:
        return self._event("high", beats)

    def _hit(self, beats: Value) -> Value:
        return self._event("hit", beats)

    def _arrival(self, beats: Value) -> Value:
        return self._event("arrival", beats)

    # --- colours -------------------------------------------------------------------------------------------------

    def _palette(self, place: Value) -> Value:
        return tuple(self.graph.add("palette", place[0], value=float(channel)) for channel in range(3))

    def _linear_rgb(self, *values: Value) -> Value:
        return tuple(value[0] for value in values)

    def _rgb(self, *values: Value) -> Value:
        return tuple(self.add("srgb_decode", value[0]) for value in values)

    def _hsl(self, hue: Value, saturation: Value, lightness: Value) -> Value:
        """CSS Color 4, section 7.1: channel n is l - s min(l, 1 - l) max(-1, min(k - 3, 9 - k, 1)), k = n + h/30."""
        spread = self.add("multiply", saturation[0], self.add("min", lightness[0], self._less_one(lightness[0])))

        def channel(n: float) -> int:
            """One channel of linear light, ``n`` twelfths of the circle on."""
            k = self.add("mod", self.add("add", self.add("multiply", hue[0], 1 / 30), n), 12.0)
            inner = self.add("min", self.add("subtract", k, 3.0), self.add("subtract", 9.0, k))
            share = self.add("max", -1.0, self.add("min", inner, 1.0))
            encoded = self.add("subtract", lightness[0], self.add("multiply", spread, share))
            return self.add("srgb_decode", encoded)

        return channel(0.0), channel(8.0), channel(4.0)

    def _less_one(self, node: int) -> int:
        return self.add("subtract", 1.0, node)

    def _oklch(self, lightness: Value, chroma: Value, hue: Value) -> Value:
        angle = self.add("multiply", hue[0], DEGREE)
        lab = (
            lightness[0],
            self.add("multiply", chroma[0], self.add("cos", angle)),
            self.add("multiply", chroma[0], self.add("sin", angle)),
        )
        roots = [self._weighted(row, lab) for row in LAB_TO_ROOTS]
        lms = tuple(self.add("multiply", root, self.add("multiply", root, root)) for root in roots)
        return tuple(self._weighted(row, lms) for row in LMS_TO_LINEAR)

    def _weighted(self, weights: Sequence[float], nodes: tuple[int, ...]) -> int:
        total = self.graph.literal(0.0)
        for weight, node in zip(weights, nodes, strict=True):
            total = self.add("add", total, self.add("multiply", node, weight))
        return total
