"""Expressions as nested tuples."""

from __future__ import annotations

from typing import Any

Tree = tuple[Any, ...]
"""("number", value), ("input", name), ("along" or "across", name), or (operation, trees …)."""


def number(value: float) -> Tree:
    """A number as written."""
    return ("number", float(value))


def each(make: Any, *values: Any) -> Any:
    """``make`` of numbers, or channel by channel where one is a colour (a list of three)."""
    if not any(isinstance(value, list) for value in values):
        return make(*values)
    return [make(*(value[c] if isinstance(value, list) else value for value in values)) for c in range(3)]


def truth(tree: Tree) -> Tree:
    return ("minus", number(1), ("same", tree, number(0)))


def total(*trees: Tree) -> Tree:
    whole = trees[0]
    for tree in trees[1:]:
        whole = ("plus", whole, tree)
    return whole


def times(*trees: Tree) -> Tree:
    whole = trees[0]
    for tree in trees[1:]:
        whole = ("times", whole, tree)
    return whole


def around(d: Tree, w: Tree) -> tuple[Tree, Tree]:
    half = ("times", w, number(0.5))
    return ("minus", d, half), ("plus", d, half)
