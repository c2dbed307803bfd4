"""Hues between those that the people of a house wish in place of all palettes."""

from __future__ import annotations

from collections.abc import Mapping

from eavesong.colours import COLOURED, linear_to_oklab, oklab_to_oklch, parse_colour
from eavesong.palettes import ALL, Lights, hexes

GAP = 28.0
"""Degrees of hue (OKLCH) by which two colours are so far apart that others are seen between them."""
APART = 9.0
"""Degrees from either of them at which a colour is one of those."""


def hues_apart(palettes: Mapping[str, Lights]) -> tuple[tuple[str, str, float, float], ...]:
    """Pairs of the colours that a house wishes, where it has some in place of all palettes, with their hues, where
    others lie between.

    As ``#rrggbb`` and in degrees; the second hue lies up to half a turn after the first.
    """
    wished = {text for own in palettes.values() for text in hexes(own)} if ALL in palettes else set()
    lch = {text: oklab_to_oklch(linear_to_oklab(parse_colour(text))) for text in wished}
    known = sorted((float(hue), text) for text, (_, chroma, hue) in lch.items() if chroma > COLOURED)
    round_again = [*known[1:], *((hue + 360, text) for hue, text in known[:1])]
    return tuple(
        (text, other, hue, after)
        for (hue, text), (after, other) in zip(known, round_again, strict=True)
        if GAP < after - hue <= 180
    )
