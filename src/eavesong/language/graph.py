"""A program as a graph of single numbers, in which equal values are one node.

Sharing happens as nodes are made: a node is its operation, its arguments and its value, so asking twice for the
same node gives the same number. Arguments always stand before the nodes that use them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import TypeVar

from eavesong.kernels.exact import LARGEST
from eavesong.language.builtins import BOTH, CONSTANT, FRAME, INPUTS, OPERATIONS
from eavesong.language.ranges import Range, held, is_safe, range_of, size

Found = TypeVar("Found")
Parts = tuple[int | None, int | None]
"""A sum as its frame-only part and the rest; either is None when there is no such part."""

LARGEST_GRAPH = 6_000
"""Nodes of the largest program."""


class TooLargeError(Exception):
    """A program grew past LARGEST_GRAPH nodes; raised while it grows, which may be without end."""


@dataclass(frozen=True)
class Node:
    """One number: ``operation`` applied to the nodes ``arguments``.

    ``value`` is the number of a "literal", the name of an "input" or a "parameter" (a colour parameter's three
    numbers are ``name.0`` to ``name.2``), the coordinate of a "step_along" or "step_across" (its
    change over one pixel), or the channel of a "palette".
    """

    operation: str
    arguments: tuple[int, ...] = ()
    value: float | str | None = None


@dataclass
class Graph:
    """Nodes in an order in which they can be computed, with the rate and the bounds of each."""

    simplify: Callable[[Graph, str, tuple[int, ...]], int | None] = lambda *_: None
    """The simpler node that equals an operation on nodes, or None."""
    bounds: Mapping[str, Range] = field(default_factory=dict)
    """Between which numbers a parameter is set, where that is known."""
    moving: frozenset[str] = frozenset()
    """Parameters that change from frame to frame; the others are the same throughout."""
    nodes: list[Node] = field(default_factory=list)
    rates: list[int] = field(default_factory=list)
    ranges: list[Range] = field(default_factory=list)
    held: set[int] = field(default_factory=set)
    """Nodes whose value may leave the range and is held at its end."""
    names: dict[int, str] = field(default_factory=dict)
    """What the author calls a node, where it has a name."""
    slopes: dict[str, dict[int, int]] = field(default_factory=dict)
    """What `slope` has worked out, by direction."""
    parts: dict[int, Parts] = field(default_factory=dict)
    """What `fold` has taken apart."""
    _known: dict[Node, int] = field(default_factory=dict)

    def literal(self, value: float) -> int:
        """The node of a number, held within what float32 can hold; what is not a number becomes 0."""
        within = 0.0 if math.isnan(value) else max(-LARGEST, min(LARGEST, float(value)))
        return self._intern(Node("literal", (), within))

    def read(self, kind: str, name: str) -> int:
        """The node of an "input", a "parameter", a "step_along" or a "step_across"."""
        return self._intern(Node(kind, (), name))

    def add(self, operation: str, *arguments: int, value: float | str | None = None) -> int:
        """The node of an operation, simplified where that is exact."""
        simpler = self.simplify(self, operation, arguments) if value is None else None
        if simpler is not None:
            return simpler
        return self._intern(Node(operation, arguments, value))

    def number(self, node: int) -> float | None:
        """The value of a literal, None for any other node."""
        value = self.nodes[node].value
        return value if self.nodes[node].operation == "literal" and isinstance(value, float) else None

    def _intern(self, node: Node) -> int:
        known = self._known.get(node)
        if known is None:
            if len(self.nodes) >= LARGEST_GRAPH:
                raise TooLargeError
            known = self._known[node] = len(self.nodes)
            self.nodes.append(node)
            self.rates.append(self._rate(node))
            bounds = self._bounds(node)
            self.ranges.append(held(bounds))
            if not is_safe(node.operation, bounds):
                self.held.add(known)
        return known

    def _rate(self, node: Node) -> int:
        """What a node's value depends on: its arguments push their rates downstream."""
        if node.operation == "input":
            return INPUTS[str(node.value)].rate
        if node.operation in ("step_along", "step_across"):
            return INPUTS[str(node.value)].rate
        if node.operation == "parameter" and node.value in self.moving:
            return FRAME
        rate = OPERATIONS[node.operation].rate if node.operation in OPERATIONS else CONSTANT
        for argument in node.arguments:
            rate |= self.rates[argument]
        return rate

    def _bounds(self, node: Node) -> Range:
        """Between which numbers a node's value lies before it is held."""
        if node.operation == "literal":
            assert isinstance(node.value, float)
            return node.value, node.value
        if node.operation == "parameter":
            return self.bounds.get(str(node.value), (-LARGEST, LARGEST))
        if node.operation in ("input", "step_along", "step_across"):
            most = INPUTS[str(node.value)].most
            return -most, most
        return range_of(node.operation, tuple(self.ranges[argument] for argument in node.arguments))

    def ranges_of(self, outputs: tuple[int, ...], bounds: Mapping[str, Range], palette: Range) -> tuple[Range, ...]:
        """Between which numbers ``outputs`` lie where parameters and the colours of the palette are within these."""
        found: dict[int, Range] = {}
        for index in sorted(self.needed(outputs)):
            node = self.nodes[index]
            if node.operation == "parameter" and str(node.value) in bounds:
                own = bounds[str(node.value)]
            elif node.operation == "palette":
                own = palette
            elif node.arguments:
                own = range_of(node.operation, tuple(found[argument] for argument in node.arguments))
            else:
                own = self.ranges[index]
            found[index] = held(own)
        return tuple(found[index] for index in outputs)

    def is_tame(self, node: int) -> bool:
        """Whether a node's arguments are small enough that nothing overflows on the way to its value."""
        tame = OPERATIONS[self.nodes[node].operation].tame
        return all(size(self.ranges[argument]) <= tame for argument in self.nodes[node].arguments)

    def cost(self, wanted: set[int]) -> int:
        """The weight of the inner loop among the nodes ``wanted``."""
        return sum(
            OPERATIONS[self.nodes[node].operation].cost
            for node in wanted
            if self.rates[node] == BOTH and self.nodes[node].operation in OPERATIONS
        )

    def settle(
        self, node: int, known: dict[int, Found], below: Callable[[int], Iterable[int]], find: Callable[[int], Found]
    ) -> Found:
        """``known[node]``, found by ``find`` after everything ``below`` it: each node once, however deep."""
        waiting = [node]
        while waiting:
            missing = [other for other in below(waiting[-1]) if other not in known]
            if waiting[-1] in known:
                waiting.pop()
            elif missing:
                waiting += missing
            else:
                known[waiting[-1]] = find(waiting[-1])
        return known[node]

    def needed(self, outputs: tuple[int, ...]) -> set[int]:
        """Every node that ``outputs`` are made of, themselves included."""
        found: set[int] = set()
        waiting = list(outputs)
        while waiting:
            node = waiting.pop()
            if node not in found:
                found.add(node)
                waiting.extend(self.nodes[node].arguments)
        return found
