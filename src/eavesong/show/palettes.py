"""The palettes that come with eavesong, named for what they look like."""

from __future__ import annotations

from collections.abc import Iterable

from eavesong.errors import advise, nearest

BUILT_IN: dict[str, tuple[str, ...]] = {
    "warm white": ("#ffb46b", "#ffd6a1", "#ffb46b"),
    "cool white": ("#cfe2ff", "#ffffff", "#cfe2ff"),
    "candle": ("#3a0f00", "#ff7a1a", "#ffc46b"),
    "ember": ("#1a0000", "#a01000", "#ff4a00", "#ffb020"),
    "frost": ("#0b2a6b", "#4fa8ff", "#e8f6ff"),
    "lagoon": ("#001a4d", "#0066a8", "#1fc7b6", "#bdf5e6"),
    "pine wood": ("#052e12", "#1e7a2e", "#a8c832"),
    "meadow": ("#2f8f2f", "#d8d82a", "#ff7ab8", "#ffffff"),
    "evening sky": ("#2a0845", "#b0206a", "#ff5a36", "#ffc25a"),
    "berry": ("#3b0040", "#a3005f", "#ff3d7f"),
    "midnight": ("#02020f", "#1a1466", "#6a3de8"),
    "holly": ("#c00010", "#ff2a1a", "#0a7a1e", "#12b83a"),
    "peppermint": ("#ff2a3a", "#ffffff", "#ff2a3a", "#ffffff"),
    "paintbox": ("#ff0000", "#ff8c00", "#ffe600", "#00b32d", "#0055ff", "#8a2be2"),
}
"""Name to CSS colours, evenly spaced from position 0 to 1; a show's own palette of the same name comes first."""

RENAMED = {
    "ocean": "lagoon",
    "forest": "pine wood",
    "sunset": "evening sky",
    "candy": "peppermint",
    "rainbow": "paintbox",
}
"""What palettes were called before, to what they are called now."""

USUAL = "warm white"
"""The palette of a cue that names none."""


def advice_for(name: str, known: Iterable[str], colours: Iterable[str] = ()) -> str:
    """What to write instead of ``name``, which is no ``known`` palette and none of the ``colours``."""
    if name.lower() in RENAMED:
        return f"It is called '{RENAMED[name.lower()]}' now."
    known = tuple(known)
    if not nearest(name, known) and (close := nearest(name, colours)):
        return f"Did you mean the colour '{close}'?"
    return advise(name, known, "palette")
