"""Things on a house that are taken for shapes, and the shape that the wire of each usually has."""

from __future__ import annotations

from typing import Any

from eavesong.errors import MisfitError

SHAPE_FOR = {
    "ball": "sphere", "bauble": "sphere", "bush": "sphere", "candy cane": "cane", "circle": "ring",
    "curtain": "icicles", "door": "rectangle", "eaves": "line", "ellipse": "ring", "flood": "spot",
    "floodlight": "spot", "frame": "rectangle", "fountain": "spokes", "gable": "polyline", "globe": "sphere",
    "gutter": "line", "hedge": "grid", "icicle": "icicles", "lamp": "spot", "matrix": "grid", "net": "grid",
    "path": "polyline", "pillar": "helix", "pole": "helix", "post": "helix", "roof": "polyline",
    "roofline": "polyline", "screen": "grid", "snowflake": "spokes", "spiral": "helix", "square": "rectangle",
    "strand": "line", "string": "line", "strip": "line", "tree": "cone", "trunk": "helix", "wall": "grid",
    "window": "rectangle", "wreath": "ring",
}  # fmt: skip
"""Things that stand on a house, and the shape that their wire usually has."""


def shaped(value: Any) -> Any:
    """The value as it is; MisfitError where its shape is a thing, which tells the shape of the wire of such a thing."""
    thing = value.get("shape") if isinstance(value, dict) else None
    if isinstance(thing, str) and (meant := SHAPE_FOR.get(thing.lower())):
        advice = f'Write shape = "{meant}", and what it is as a tag.'
        if thing.lower() == "tree":
            advice = 'Write shape = "cone" for straight strings, "helix" for a wound wire, and "tree" as a tag.'
        raise MisfitError(f"'{thing}' is a thing, not the shape of a wire", advice)
    return value
