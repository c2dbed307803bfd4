"""Shows: cues that put effects on props at musical times; read, checked, and placed on a house and a song.

`load_show` reads a show file, `place_cues` puts it on a layout and a beat grid, `check` says what it will do.
The names below load their modules only when first used, so that importing the room costs nothing.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from eavesong.check.findings import Report, check
    from eavesong.show.load import Show, grid_of, load_show
    from eavesong.show.model import BLENDS, Cue, show_schema
    from eavesong.scene.place import PlacedCue, place_cues
    from eavesong.check.report import report_text
    from eavesong.show.selection import Selector, parse_selector
    from eavesong.scene.timeline import Envelope, Span

__all__ = [
    "BLENDS",
    "Cue",
    "Envelope",
    "PlacedCue",
    "Report",
    "Selector",
    "Show",
    "Span",
    "check",
    "grid_of",
    "load_show",
    "parse_selector",
    "place_cues",
    "report_text",
    "show_schema",
]

_HOMES = {
    "findings": ("Report", "check"),
    "load": ("Show", "grid_of", "load_show"),
    "model": ("BLENDS", "Cue", "show_schema"),
    "place": ("PlacedCue", "place_cues"),
    "report": ("report_text",),
    "selection": ("Selector", "parse_selector"),
    "timeline": ("Envelope", "Span"),
}


def __getattr__(name: str) -> Any:
    for home, names in _HOMES.items():
        if name in names:
            return getattr(importlib.import_module(f"{__name__}.{home}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
