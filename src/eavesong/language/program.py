"""Hoisting: what of a program is computed once, what per layout, what per frame, and what is left for the loop.

The graph is cut where rates meet. Nodes of the slower rates that the loop reads become its *scalars* (one number
a frame) and its *planes* (one number a pixel); only nodes that need both stay inside.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from eavesong.language.builtins import BOTH, INPUTS, PIXEL
from eavesong.language.graph import Graph

HASHES = ("hash1", "hash2", "hash3")
"""Operations that add up what each of their arguments brings."""


@dataclass(frozen=True)
class Program:
    """A compiled-to-graph effect, cut by rate."""

    graph: Graph
    outputs: tuple[int, ...]
    """Nodes of level, red, green and blue."""
    shown: tuple[int, ...]
    """The same held within 0 and 1, as far as that is done outside the loop."""
    scalars: tuple[int, ...]
    """Nodes the loop reads once a frame, in the order of the kernel's scalars."""
    planes: tuple[int, ...]
    """Nodes the loop reads once a pixel, in the order of the kernel's planes."""
    loop: tuple[int, ...]
    """Nodes computed inside the loop, in order."""
    halves: Mapping[tuple[int, int], tuple[int, int]]
    """Both halves, among the planes, of what a pixel brings to a hash in the loop, by node and number of argument."""

    @property
    def weight(self) -> int:
        """The weight of the loop, in units of about four machine operations a pixel."""
        return self.graph.cost(set(self.loop))

    def pixel_inputs(self) -> set[tuple[str, str]]:
        """(operation, name) of every pixel value that the planes are made from."""
        nodes = (self.graph.nodes[node] for node in self.graph.needed(self.planes))
        kinds = ("input", "step_along", "step_across")
        return {(node.operation, str(node.value)) for node in nodes if node.operation in kinds}

    def frame_inputs(self) -> set[str]:
        """Names of every frame value the program reads."""
        nodes = (self.graph.nodes[node] for node in self.graph.needed(self.outputs))
        names = {str(node.value) for node in nodes if node.operation == "input"}
        return {name for name in names if not INPUTS[name].rate & PIXEL}

    def reads_spectrum(self) -> bool:
        """Whether the program asks how loud single pitches are."""
        return any(self.graph.nodes[node].operation == "spectrum" for node in self.graph.needed(self.outputs))


def hoist(graph: Graph, outputs: tuple[int, ...]) -> Program:
    """Cut ``graph`` for the loop that computes ``outputs``."""
    shown = tuple(_held(graph, node) for node in outputs)
    needed = graph.needed(shown)
    loop = tuple(sorted(node for node in needed if graph.rates[node] == BOTH))
    halves: dict[tuple[int, int], tuple[int, int]] = {}
    read = set(shown)
    for node in loop:
        inner = graph.nodes[node]
        for place, argument in enumerate(inner.arguments):
            if inner.operation in HASHES and graph.rates[argument] == PIXEL:
                what = argument, graph.literal(place)
                halves[argument, place] = graph.add("hash_high", *what), graph.add("hash_low", *what)
                read.update(halves[argument, place])
            else:
                read.add(argument)
    read -= set(loop)
    given = sorted(node for node in read if graph.nodes[node].operation != "literal")
    return Program(
        graph=graph,
        outputs=outputs,
        shown=shown,
        scalars=tuple(node for node in given if not graph.rates[node] & PIXEL),
        planes=tuple(node for node in given if graph.rates[node] & PIXEL),
        loop=loop,
        halves=halves,
    )


def is_held(graph: Graph, node: int) -> bool:
    """Whether a node's value lies within 0 and 1 anyway."""
    low, high = graph.ranges[node]
    return low >= 0 and high <= 1


def _held(graph: Graph, node: int) -> int:
    if graph.rates[node] == BOTH or is_held(graph, node):
        return node
    return graph.add("unit", node)
