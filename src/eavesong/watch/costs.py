"""What each line of an effect's code costs: when it is worked out, and how much of the loop is its own."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from eavesong.language.parse import parse

if TYPE_CHECKING:
    from eavesong.language import Effect

WHEN = ("once", "once a frame", "once a pixel", "every pixel, every frame")
"""How often something of each rate is worked out."""


def costs(effect: Effect) -> dict[str, Any]:
    """The lines of ``effect``'s code, each with how often it is worked out and its share of the loop's weight, 0..1."""
    program = effect.program
    graph = program.graph
    lines = effect.code.strip("\n").split("\n")
    shift = effect.code[: len(effect.code) - len(effect.code.lstrip("\n"))].count("\n")
    loop = set(program.loop)
    owners = _owners(effect)
    rows = [{"text": line, "when": "", "share": 0.0} for line in lines]
    total = max(1, graph.cost(loop))
    taken: set[int] = set()
    for line, name in owners:
        own = {node for node, named in graph.names.items() if named.split(".")[0] == name}
        needed = graph.needed(tuple(own)) if own else set()
        fresh = needed - taken
        taken |= needed
        row = rows[line - 1 - shift] if 0 <= line - 1 - shift < len(rows) else None
        if row is not None and own:
            row["when"] = WHEN[max(graph.rates[node] for node in own)]
            row["share"] = round(graph.cost(fresh & loop) / total, 3)
    return {"lines": rows, "loop": len(program.loop), "planes": len(program.planes), "scalars": len(program.scalars),
            "weight": round(program.weight, 1)}  # fmt: skip


def _owners(effect: Effect) -> list[tuple[int, str]]:
    return [(assignment.line, assignment.name) for assignment in parse(effect.code)]
