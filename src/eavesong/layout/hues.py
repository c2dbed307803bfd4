"""Hues between those that the people of a house wish in place of all palettes."""

from __future__ import annotations

from collections.abc import Mapping

from eavesong.colours import COLOURED, linear_to_oklab, oklab_to_oklch, parse_colour
from eavesong.palettes import ALL, Lights, hexes

GAP = 28.0
"""Degrees of hue (OKLCH) by which two colours are so far apart that others are seen between them."""
APART = 9.0
"""Degrees from either of them at which a colour is one of those."""
DEEP, GREYED = 0.12, 0.45
"""Chroma as a share of lightness (OKLCH) of colours that turn grey where they are mixed, 0.15 of a warm white, and the
share of the paler one's below which a mix is hardly any hue."""


def hues_apart(palettes: Mapping[str, Lights]) -> tuple[tuple[str, str, float, float], ...]:
    """Pairs of the colours that a house wishes, where it has some in place of all palettes, with their hues, where
    others lie between.

    As ``#rrggbb`` and in degrees; the second hue lies up to half a turn after the first.
    """
    lch = _wished(palettes)
    known = sorted((float(hue), text) for text, (_, chroma, hue) in lch.items() if chroma > COLOURED)
    round_again = [*known[1:], *((hue + 360, text) for hue, text in known[:1])]
    return tuple(
        (text, other, hue, after)
        for (hue, text), (after, other) in zip(known, round_again, strict=True)
        if GAP < after - hue <= 180
    )


def greyed(palettes: Mapping[str, Lights]) -> tuple[str, str, float] | None:
    """The two colours that lie farthest apart of those that a house wishes in place of all palettes, as ``#rrggbb``,
    and the chroma as a share of lightness (OKLCH) below which what is seen is a grey between them; None where no
    others lie between, and where pale colours are wished."""
    if not (pairs := hues_apart(palettes)):
        return None
    least = min(chroma / max(lightness, 1e-6) for lightness, chroma, _ in _wished(palettes).values())
    one, other, *_ = max(pairs, key=lambda pair: pair[3] - pair[2])
    return (one, other, GREYED * least) if least > DEEP else None


def _wished(palettes: Mapping[str, Lights]) -> dict[str, tuple[float, float, float]]:
    """Lightness, chroma and hue of the colours that a house wishes, where it has some in place of all palettes."""
    wished = {text for own in palettes.values() for text in hexes(own)} if ALL in palettes else set()
    return {text: tuple(oklab_to_oklch(linear_to_oklab(parse_colour(text))).tolist()) for text in sorted(wished)}
