"""An effect as the compiler sees it, in words: what is computed when, and the source of its loop."""

from __future__ import annotations

from eavesong.language.builtins import OPERATIONS, RATE_NAMES
from eavesong.language.effect import Effect
from eavesong.language.emit import emit
from eavesong.language.graph import Graph
from eavesong.language.program import Program

_HEADINGS = (
    "Once per cue",
    "Once per frame (float64)",
    "Once per pixel of a house (float64)",
)


def explain(effect: Effect) -> str:
    """What is computed at each rate, and the generated source of the inner loop."""
    program = effect.program
    graph = program.graph
    needed = sorted(graph.needed(program.outputs))
    parts = [f"{effect.title}: {len(needed)} values, {len(program.loop)} of them in the loop\n"]
    for rate, heading in enumerate(_HEADINGS):
        nodes = [node for node in needed if graph.rates[node] == rate and graph.nodes[node].arguments]
        if nodes:
            parts.append(heading)
            parts += [f"    {_name(graph, node)} = {_written(graph, node)}" for node in nodes]
            parts.append("")
    parts.append(f"For every {RATE_NAMES[3]} (float32), compiled by LLVM")
    parts.append(emit(program, effect.title))
    return "\n".join(parts)


def machine_code(effect: Effect) -> str:
    """The machine code of the loop as this processor runs it, in assembly."""
    from eavesong.kernels.store import compiled_anew

    program: Program = effect.program
    text: str = compiled_anew(emit(program, effect.title))
    return text


def _name(graph: Graph, node: int) -> str:
    inner = graph.nodes[node]
    number = graph.number(node)
    if number is not None:
        return f"{number:g}"
    if inner.operation in ("input", "parameter"):
        return str(inner.value)
    if inner.operation in ("step_along", "step_across"):
        return f"{inner.operation}({inner.value})"
    return graph.names.get(node, f"v{node}")


def _written(graph: Graph, node: int) -> str:
    inner = graph.nodes[node]
    arguments = [_name(graph, argument) for argument in inner.arguments]
    sign = OPERATIONS[inner.operation].kernel
    if len(arguments) == 2 and not sign.isidentifier():
        return f"{arguments[0]} {sign} {arguments[1]}"
    channel = f", {'rgb'[int(inner.value or 0)]}" if inner.operation == "palette" else ""
    return f"{inner.operation}({', '.join(arguments)}{channel})"
