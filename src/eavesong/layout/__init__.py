"""Layout: a house and its props as places of pixels, with tags and a patch.

`load_layout` reads a layout file; `layout_from_points` makes a layout from arrays. The names below load their
modules only when first used, so that importing the room costs nothing.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from eavesong.layout.house import Frame, Layout, Pixels, Prop
    from eavesong.layout.load import layout_from_points, load_layout
    from eavesong.layout.model import layout_schema
    from eavesong.layout.patch import Controller, Patch, PatchRun

__all__ = [
    "Controller",
    "Frame",
    "Layout",
    "Patch",
    "PatchRun",
    "Pixels",
    "Prop",
    "layout_from_points",
    "layout_schema",
    "load_layout",
]

_HOMES = {
    "house": ("Frame", "Layout", "Pixels", "Prop"),
    "load": ("layout_from_points", "load_layout"),
    "model": ("layout_schema",),
    "patch": ("Controller", "Patch", "PatchRun"),
}


def __getattr__(name: str) -> Any:
    for home, names in _HOMES.items():
        if name in names:
            return getattr(importlib.import_module(f"{__name__}.{home}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
