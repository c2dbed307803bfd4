"""Previews: stills, clips and the page of a house lit, made from a frames file alone.

The names below load their modules only when first used, so that importing the room costs nothing.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from eavesong.preview.film import write_film, write_loop
    from eavesong.preview.heard import heard_picture
    from eavesong.preview.night import Scene, filmstrip, night, save_picture, still
    from eavesong.preview.page import write_page
    from eavesong.preview.score import score_picture
    from eavesong.scene.reopen import Source
    from eavesong.preview.view import View, parse_view

__all__ = [
    "Scene",
    "Source",
    "View",
    "filmstrip",
    "heard_picture",
    "night",
    "parse_view",
    "save_picture",
    "score_picture",
    "still",
    "write_film",
    "write_loop",
    "write_page",
]

_HOMES = {
    "film": ("write_film", "write_loop"),
    "heard": ("heard_picture",),
    "night": ("Scene", "filmstrip", "night", "save_picture", "still"),
    "page": ("write_page",),
    "score": ("score_picture",),
    "source": ("Source",),
    "view": ("View", "parse_view"),
}


def __getattr__(name: str) -> Any:
    for home, names in _HOMES.items():
        if name in names:
            return getattr(importlib.import_module(f"{__name__}.{home}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
