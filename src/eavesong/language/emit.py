"""From program to the Python source of its kernel, which can be read; `kernels.words` writes it down for LLVM."""

from __future__ import annotations

import keyword
import re

from eavesong.kernels.blend import MODES
from eavesong.language.builtins import FUNCTIONS, OPERATIONS
from eavesong.language.graph import Node
from eavesong.language.program import HASHES, Program, is_held

_SIGNS = {"+", "-", "*"}
_RESERVED = (
    {"light", "weight", "planes", "scalars", "palette", "spectrum", "strength", "n", "kernel"}
    | {"alpha", *"rgb", "sr", "sg", "sb", "mr", "mg", "mb"}
    | {"blend_fast", "fast", "f", "load", "store", "tile", "TILE"}
    | set(keyword.kwlist)
    | set(FUNCTIONS)
)
_HEAD = '''"""{title}: one tile of pixels in one frame, {mode} over what is below."""

from numpy import float32 as f

from eavesong.kernels import blend_fast, fast
from eavesong.kernels.words import TILE, load, store, tile


def kernel(light, spectrum, weight, planes, scalars, palette, strength):
'''


def emit(program: Program, title: str, mode: str = "source-over", *, whole: bool = False) -> str:
    """The source of the kernel of ``program``, blended by ``mode``; ``title`` names it to readers.

    whole: for tiles of which it lights every pixel, so that nothing is weighed.
    """
    safe = "".join(letter for letter in title if letter.isprintable() and letter not in "\\\"'")
    names = _names(program)
    level, red, green, blue = (
        names[node] if is_held(program.graph, node) else f"fast.unit({names[node]})" for node in program.shown
    )
    lines = [f"    {names[node]} = load(scalars, {slot})" for slot, node in enumerate(program.scalars)]
    loop = [f"{names[node]} = load(planes, n + {slot} * TILE)" for slot, node in enumerate(program.planes)]
    loop += [f"{names[node]} = {_held(program, node, names)}" for node in program.loop]
    loop.append(f"alpha = {level}{'' if whole else ' * load(weight, n)'} * load(strength, 0)")
    loop.append(f"sr, sg, sb = {red}, {green}, {blue}")
    loop.append("r, g, b = load(light, n), load(light, n + TILE), load(light, n + 2 * TILE)")
    loop += _blending(mode)
    loop += [f"store(light, n + {slot} * TILE, {channel})" for slot, channel in enumerate("rgb")]
    lines += ["    for n in tile():", *(f"        {line}" for line in loop)]
    return _HEAD.format(title=safe, mode=mode) + "\n".join(lines) + "\n"


def _blending(mode: str) -> list[str]:
    """Lines that blend a pixel's colour over what lies below it.

    They read ``r, g, b`` (below), ``sr, sg, sb`` (the cue's colour) and ``alpha`` (its level times weight and
    strength), all float32, and set ``r, g, b``.
    """
    formula, takes = f"blend_fast.{MODES[mode].formula.__name__}", MODES[mode].takes
    if takes == "light":
        return [f"{c} = {formula}({c}, s{c}, alpha)" for c in "rgb"]
    if takes == "colour":
        mixed = [f"mr, mg, mb = {formula}(r, g, b, sr, sg, sb)"]
    else:
        mixed = [f"m{c} = {formula}({c}, s{c})" for c in "rgb"]
    return mixed + [f"{c} = {c} + alpha * (m{c} - {c})" for c in "rgb"]


def _names(program: Program) -> dict[int, str]:
    """A name for every node the kernel speaks of, each its own: the author's where there is one, else a number."""
    graph = program.graph
    names: dict[int, str] = {}
    taken = set(_RESERVED)
    for node in (*program.scalars, *program.planes, *program.loop):
        wish = graph.names.get(node) or _own_name(graph.nodes[node])
        name = wish or f"v{node}"
        while name in taken or (wish and re.fullmatch(r"v\d+", name)):
            name += "_"
        names[node] = name
        taken.add(name)
    for program_node in program.loop + program.shown:
        for node in (program_node, *graph.nodes[program_node].arguments):
            number = graph.number(node)
            if number is not None:
                names[node] = f"f({number!r})"
    return names


def _own_name(node: Node) -> str:
    """What an input or a parameter is called; empty for what is computed."""
    if node.operation in ("input", "parameter"):
        return str(node.value).replace(".", "_")
    if node.operation in ("step_along", "step_across"):
        return f"{node.value}_{node.operation}"
    return ""


def _held(program: Program, node: int, names: dict[int, str]) -> str:
    expression = _expression(program, node, names)
    return f"fast.held({expression})" if node in program.graph.held else expression


def _expression(program: Program, node: int, names: dict[int, str]) -> str:
    inner = program.graph.nodes[node]
    if inner.operation in HASHES:
        return f"fast.lot({', '.join(_part(program, names, *where) for where in enumerate(inner.arguments))})"
    arguments = [names[argument] for argument in inner.arguments]
    kernel = OPERATIONS[inner.operation].kernel
    if inner.operation == "negate":
        return f"-{arguments[0]}"
    if kernel in _SIGNS:
        return f"{arguments[0]} {kernel} {arguments[1]}"
    if inner.operation == "palette":
        return f"fast.palette({arguments[0]}, palette, {int(inner.value or 0)})"
    if inner.operation == "spectrum":
        return f"fast.spectrum({arguments[0]}, spectrum)"
    width = "" if program.graph.is_tame(node) else "wide_"
    return f"fast.{width}{kernel}({', '.join(arguments)})"


def _part(program: Program, names: dict[int, str], place: int, argument: int) -> str:
    """What an argument of a hash brings to it."""
    if (halves := program.halves.get((argument, place))) is not None:
        return f"fast.joined({names[halves[0]]}, {names[halves[1]]})"
    return f"fast.hash_part({names[argument]}, {place})"
