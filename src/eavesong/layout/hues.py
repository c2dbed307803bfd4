"""Hues between those that the people of a house wish in place of all palettes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from eavesong.colours import COLOURED, linear_to_oklab, oklab_to_oklch, parse_colour
from eavesong.palettes import ALL, BUILT_IN, Lights, hexes

GAP = 28.0
"""Degrees of hue (OKLCH) by which two colours are so far apart that others are seen between them."""
APART = 9.0
"""Degrees from either of them at which a colour is one of those."""
DEEP, GREYED = 0.12, 0.45
"""Chroma as a share of lightness (OKLCH) of colours that turn grey where they are mixed, 0.15 of a warm white, and the
share of the paler one's below which a mix is hardly any hue."""
UNLIKE = 150.0
"""Degrees of hue from which on a mix of two colours is grey: 171 between gold and royal blue, 113 between red and
green."""
WHITE = 0.7
"""Lightness (OKLCH) of a white or a light grey."""
PASTEL = (0.2, 0.7)
"""Shares of a colour's chroma beside its lightness between which what is seen is a pastel of it and white."""


class Paler(NamedTuple):
    """What is seen where two of the colours that a house wishes are mixed, and neither of them."""

    one: str
    """As ``#rrggbb``; likewise ``other``, the farthest from it, or a white."""
    other: str
    least: float
    """Chroma as a share of lightness (OKLCH) from which on it is that, and below which, ``most``."""
    most: float
    pastel: bool
    """Whether it is of the hue of ``one``, with white; else a grey between both."""


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


def paler(palettes: Mapping[str, Lights]) -> Paler | None:
    """What comes out paler than what a house wishes in place of all palettes, where its colours are mixed: greys
    between two hues, or pastels of one and a white; None where pale colours are wished, or shades of one alone."""
    lch = _wished(palettes)
    ratios = {text: chroma / max(lightness, 1e-6) for text, (lightness, chroma, _) in lch.items()}
    deep = {text: ratio for text, ratio in ratios.items() if lch[text][1] > COLOURED}
    if not deep or min(deep.values()) <= DEEP:
        return None
    palest = min(deep, key=lambda text: deep[text])
    if hexes(palettes[ALL]) in BUILT_IN.values():
        return None  # palettes that come along are made so
    if white := next((text for text in lch if text not in deep and lch[text][0] > WHITE), ""):
        return Paler(palest, white, PASTEL[0] * deep[palest], PASTEL[1] * deep[palest], True)
    if len(deep) < len(lch) or not (pairs := hues_apart(palettes)):
        return None
    one, other, first, last = max(pairs, key=lambda pair: pair[3] - pair[2])
    return Paler(one, other, -1.0, GREYED * deep[palest], False) if last - first > UNLIKE else None


def _wished(palettes: Mapping[str, Lights]) -> dict[str, tuple[float, float, float]]:
    """Lightness, chroma and hue of the colours that a house wishes, where it has some in place of all palettes."""
    wished = {text for own in palettes.values() for text in hexes(own)} if ALL in palettes else set()
    return {text: tuple(oklab_to_oklch(linear_to_oklab(parse_colour(text))).tolist()) for text in sorted(wished)}
