"""The value of any node in float64 numpy: for what is computed once per cue, per layout or per frame, and as the
reference that the compiled loop is tested against."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from eavesong.kernels import exact
from eavesong.language.builtins import OPERATIONS
from eavesong.language.graph import Graph, Node

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Surroundings:
    """What a program is evaluated in. Frame values have shape (f, 1), pixel values (1, n)."""

    parameters: Mapping[str, float | Floats]
    """Numbers by name; a colour's three by ``name.0`` to ``name.2``."""
    inputs: Mapping[str, Floats] = field(default_factory=dict)
    step: Mapping[str, Floats] = field(default_factory=dict)
    """Change of a coordinate over one pixel along the wire, (1, n)."""
    across: Mapping[str, Floats] = field(default_factory=dict)
    """Change of a coordinate from one wire to the next, (1, n)."""
    palette: Floats = field(default_factory=lambda: np.zeros((3, exact.PALETTE_SIZE)))
    """Linear light, (3, PALETTE_SIZE)."""
    spectrum: Floats = field(default_factory=lambda: np.zeros((1, exact.SPECTRUM_SIZE)))
    """Loudness of each band, (f, SPECTRUM_SIZE)."""


def evaluate(graph: Graph, wanted: Iterable[int], around: Surroundings) -> dict[int, Floats]:
    """The values of the nodes ``wanted``: float64, shapes () or (f, 1) or (1, n) or (f, n) by their rates."""
    wanted = tuple(wanted)
    needed = sorted(graph.needed(wanted))
    last = {argument: number for number in needed for argument in graph.nodes[number].arguments}
    values: dict[int, Floats] = {}
    with np.errstate(all="ignore"):
        for number in needed:
            node = graph.nodes[number]
            arguments = [values[argument] for argument in node.arguments]
            value = _value(node, arguments, around)
            values[number] = np.clip(value, -exact.LARGEST, exact.LARGEST) if number in graph.held else value
            for argument in set(node.arguments).difference(wanted):
                if last[argument] == number:
                    del values[argument]  # not kept until the end: a large house has many values of each
    return {number: values[number] for number in wanted}


def _value(node: Node, arguments: list[Floats], around: Surroundings) -> Floats:
    if node.operation == "literal":
        return np.asarray(node.value, np.float64)
    if node.operation == "parameter":
        return np.clip(np.asarray(around.parameters[str(node.value)], np.float64), -exact.LARGEST, exact.LARGEST)
    if node.operation in ("input", "step_along", "step_across"):
        known = {"input": around.inputs, "step_along": around.step, "step_across": around.across}[node.operation]
        return np.asarray(known[str(node.value)], np.float64)
    if node.operation == "palette":
        return exact.table(arguments[0], around.palette[int(node.value or 0)])
    if node.operation == "spectrum":
        return exact.table(np.atleast_2d(arguments[0]), around.spectrum)
    return np.asarray(OPERATIONS[node.operation].exact(*arguments), np.float64)
