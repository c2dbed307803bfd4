"""What each line of an effect's code costs: when it is worked out, and how much of the loop is its own."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from eavesong.language.parse import parse

if TYPE_CHECKING:
    from eavesong.language import Effect

WHEN = ("once", "once a pixel", "once a frame", "for every pixel of every frame")
"""How often something is worked out, by what it depends on: nothing, place, time, both."""


def costs(effect: Effect) -> dict[str, Any]:
    """The lines of ``effect``'s code, each with how often it is worked out and its share of the loop's weight, 0..1.

    What several lines need counts for the first of them; what a line is folded into, or simplified to, for that.
    """
    program = effect.program
    graph, loop = program.graph, set(program.loop)
    lines = effect.code.strip("\n").split("\n")
    skipped = len(effect.code) - len(effect.code.lstrip("\n"))
    rows: list[dict[str, Any]] = [{"text": line, "when": "", "share": 0.0} for line in lines]
    total, taken = max(1, graph.cost(loop)), set[int]()
    for assignment in parse(effect.code):
        parts = {assignment.name, *(f"{assignment.name}_{channel}" for channel in "rgb")}
        own = tuple(node for node, name in graph.names.items() if name in parts)
        fresh = graph.needed(own) - taken
        taken |= fresh
        rates = [graph.rates[node] for node in own]
        row = rows[assignment.line - 1 - skipped]
        row["when"] = WHEN[_when(max(rates))] if rates else ""
        row["share"] = round(graph.cost(fresh & loop) / total, 3)
    return {"lines": rows, "loop": len(program.loop)}


def _when(rate: int) -> int:
    from eavesong.language.builtins import FRAME, PIXEL

    return (1 if rate & PIXEL else 0) + (2 if rate & FRAME else 0)
