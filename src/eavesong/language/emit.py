"""From program to the Python source of its kernel: a real file that can be read, compiled by numba."""

from __future__ import annotations

import keyword

from eavesong.language.builtins import FUNCTIONS, OPERATIONS
from eavesong.language.program import Program

_SIGNS = {"+", "-", "*"}
_RESERVED = set(keyword.kwlist) | {"fast", "f", "cfunc", "load", "store", "kernel", "range", "TILE", "KERNEL", "n"}
_HEAD = '''"""{title}: the part that needs both the frame and the pixel, for one tile of pixels in one frame."""

from numba import cfunc
from numpy import float32 as f

from eavesong.kernels import fast
from eavesong.kernels.lanes import KERNEL, TILE, load, store


@cfunc(KERNEL, cache=True, fastmath=fast.MATHS, error_model="numpy")
def kernel(out, planes, scalars, palette, spectrum):
'''
OUTPUT_NAMES = ("level", "red", "green", "blue")


def emit(program: Program, title: str) -> str:
    """The source of the kernel of ``program``; ``title`` names it to readers."""
    safe = "".join(letter for letter in title if letter.isprintable() and letter not in "\\\"'")
    names = _Names(program)
    lines = [f"    {names[node]} = load(scalars, {slot})" for slot, node in enumerate(program.scalars)]
    lines.append("    for n in range(TILE):")
    lines += [f"        {names[node]} = load(planes, n + {slot} * TILE)" for slot, node in enumerate(program.planes)]
    lines += [f"        {names[node]} = {_expression(program, node, names)}" for node in program.loop]
    for slot, (node, name) in enumerate(zip(program.outputs, OUTPUT_NAMES, strict=True)):
        lines.append(f"        store(out, n + {slot} * TILE, {names[node]})  # {name}")
    return _HEAD.format(title=safe) + "\n".join(lines) + "\n"


class _Names:
    """A name for every node: the author's where there is one, a number otherwise."""

    def __init__(self, program: Program) -> None:
        self.program = program

    def __getitem__(self, node: int) -> str:
        graph = self.program.graph
        number = graph.number(node)
        if number is not None:
            return f"f({number!r})"
        inner = graph.nodes[node]
        name = graph.names.get(node) or (
            str(inner.value).replace(".", "_") + {"step": "_step", "across": "_across"}.get(inner.operation, "")
            if inner.operation in ("input", "parameter", "step", "across")
            else f"v{node}"
        )
        clashes = name in _RESERVED or name in FUNCTIONS or (name[:1] == "v" and name[1:].isdigit())
        return f"{name}_" if clashes and name != f"v{node}" else name


def _expression(program: Program, node: int, names: _Names) -> str:
    inner = program.graph.nodes[node]
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
    return f"fast.{kernel}({', '.join(arguments)})"
