"""Plan to blocks to bytes: a show on a house to a song becomes a frames file.

`render` renders it whole, `retarget` on a changed house only what has changed. `eavesong.render.likeness.likeness`
compares two frames files.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

from eavesong.render.render import Rendered, render

if TYPE_CHECKING:
    from eavesong.render.reuse import Retargeted, retarget

__all__ = ["Rendered", "Retargeted", "render", "retarget"]

_HOMES = {"reuse": ("Retargeted", "retarget")}


def __getattr__(name: str) -> Any:
    for home, names in _HOMES.items():
        if name in names:
            return getattr(importlib.import_module(f"{__name__}.{home}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
