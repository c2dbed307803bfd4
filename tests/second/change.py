"""The change of an expression over one pixel, by the manual's table."""

from __future__ import annotations

from typing import Any

from second.trees import Tree, around, number, times, total

STEPPED = {"x", "y", "z", "X", "Y", "Z", "u", "along", "px", "py", "turn"}
FLAT = {"floor", "ceil", "trunc", "round", "sign", "step", "hash", "below", "upto", "same"}


_known_changes: dict[tuple[int, str], tuple[Tree, Tree]] = {}
"""By identity, with the tree itself, so that no other gets its identity."""


def change(tree: Tree, way: str) -> Tree:
    """The tree of the change of ``tree`` over one pixel, ``along`` its wire or ``across``."""
    key = id(tree), way
    if key not in _known_changes:
        _known_changes[key] = tree, _change(tree, way)
    return _known_changes[key][1]


def _change(tree: Tree, way: str) -> Tree:
    kind, *parts = tree
    if kind == "input" and parts[0] in STEPPED:
        return (way, parts[0])
    if kind in ("number", "input", "along", "across") or kind in FLAT:
        return number(0)
    d = [change(part, way) for part in parts]
    if kind in CHANGES:
        return CHANGES[kind](tree, parts, d)
    if kind in ("fract", "wrap", "mod"):
        return d[0]
    moved = [[around(part, by)[end] for part, by in zip(parts, d, strict=True)] for end in (1, 0)]
    return ("minus", (kind, *moved[0]), (kind, *moved[1]))


CHANGES: dict[str, Any] = {
    "plus": lambda tree, parts, d: ("plus", *d),
    "minus": lambda tree, parts, d: ("minus", *d),
    "times": lambda tree, parts, d: ("plus", times(d[0], parts[1]), times(d[1], parts[0])),
    "over": lambda tree, parts, d: ("over", ("minus", d[0], times(tree, d[1])), parts[1]),
    "abs": lambda tree, parts, d: times(("sign", parts[0]), d[0]),
    "min": lambda tree, parts, d: ("choose", ("below", *parts), *d),
    "max": lambda tree, parts, d: ("choose", ("below", parts[1], parts[0]), *d),
    "clamp": lambda tree, parts, d: times(("upto", parts[1], parts[0]), ("upto", parts[0], parts[2]), d[0]),
    "choose": lambda tree, parts, d: ("choose", parts[0], d[1], d[2]),
    "length": lambda tree, parts, d: ("over", total(*(times(a, da) for a, da in zip(parts, d, strict=True))), tree),
    "atan": lambda tree, parts, d: (
        "over",
        ("minus", times(parts[1], d[0]), times(parts[0], d[1])),
        ("plus", times(parts[0], parts[0]), times(parts[1], parts[1])),
    ),
}
