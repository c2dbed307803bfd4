"""Colours for every look: one that leads, one beside it, and a deep one for what stands back, chosen in OKLCH.

They come from palettes somebody asked for, or from a few moods of our own. Lamps are clean where they are pure, and
stay clean when they are dim only where their hue is deep: yellow turns olive, orange brown. So what is dim is blue,
green or plum, and what is bright may be anything.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from eavesong.colours import hex_of, linear_to_oklab, oklab_to_oklch, oklch_to_linear, parse_colour

LCH = tuple[float, float, float]

LAMPS: dict[str, LCH] = {
    "rose": (0.67, 0.19, 5.0),
    "blue": (0.53, 0.25, 264.0),
    "azure": (0.68, 0.17, 248.0),
    "teal": (0.68, 0.13, 195.0),
    "green": (0.62, 0.20, 147.0),
    "gold": (0.79, 0.16, 76.0),
    "white": (0.86, 0.085, 79.0),
    "candle": (0.82, 0.105, 74.0),
}
"""Lightness, chroma and hue (degrees) of what lamps show well: as pure as lamps are, none lighter than it must be.
Rose leans to magenta, since a red that is not to count as flashing is brown where it is dim, and white to candlelight,
since it is grey; beside green and teal it is darker and warmer, since all of it is pale there (by eye)."""
DEEPS: dict[str, LCH] = {
    "blue": (0.45, 0.24, 265.0),
    "green": (0.47, 0.15, 150.0),
    "wine": (0.40, 0.16, 4.0),
}
"""What stands back: hues that stay themselves in little light."""
MOODS: dict[str, tuple[str, str, str]] = {
    "frost": ("azure", "white", "blue"),
    "harbour": ("azure", "gold", "blue"),
    "brass": ("gold", "azure", "blue"),
    "night": ("blue", "gold", "blue"),
    "snow": ("white", "azure", "blue"),
    "holly": ("green", "candle", "green"),
    "pine": ("green", "gold", "green"),
    "carol": ("gold", "green", "green"),
    "fir": ("candle", "green", "green"),
    "lantern": ("rose", "gold", "wine"),
    "ember": ("gold", "rose", "wine"),
    "veil": ("white", "rose", "wine"),
    "lagoon": ("teal", "gold", "blue"),
    "beacon": ("gold", "teal", "blue"),
    "tide": ("teal", "candle", "blue"),
    "shore": ("candle", "teal", "blue"),
}
"""The lamp that leads, the one beside it, and the deep one behind. Never gold beside white: house and garden then are
one pale mass in which no prop stands apart (by eye)."""
SCHEMES: tuple[tuple[str, ...], ...] = (
    ("frost", "harbour", "brass", "night", "snow"),
    ("lantern", "ember", "veil", "frost"),
    ("holly", "pine", "carol", "fir"),
    ("lagoon", "tide", "shore", "beacon", "night"),
)
"""The moods of one song: three or four lamps that it keeps to all through, so that its parts belong together."""
THIRD = ("rose", "azure", "rose", "rose")
"""The lamp that sweeps over what is full, scheme by scheme: one that nothing else in it wears."""
AWAY = frozenset(("frost",))
"""Moods that take a song away from the others of its scheme: neither its beginning nor its end (by eye)."""
WARM = frozenset(("rose", "gold", "white", "candle"))
"""Lamps that warm a house; the others cool it (common practice)."""
DULL = frozenset(("gold", "white", "candle"))
"""Lamps that look brown or grey where they are dim (by eye)."""
REDDEST = 0.7
"""Share of red in a colour's light at most. From 0.8 it is a saturated red, whose coming and going is a flash sooner
than that of others (WCAG 2.2); what else is lit adds to it, and so do bytes rounded where it is dim."""
DARKEST = 0.5
"""Lightness (OKLCH) of what leads at least: darker lights are hardly seen."""
APART = 40.0
"""Degrees of hue from which two looks are told apart at once (by eye)."""
YELLOW = (45.0, 115.0)
"""Hues of amber and yellow, degrees."""
MINT = (125.0, 220.0)
"""Hues of green and teal, degrees, which look washed out where they are lighter and less pure (by eye)."""
COLOURED = 0.08
"""Chroma below which a colour counts as white."""


@dataclass(frozen=True)
class Colours:
    """The colours of one look, as ``#rrggbb``."""

    mood: str
    """Another name for each that a look may wear."""
    main: str
    beside: str
    deep: str
    asked: int = 0
    """Which of the palettes that were asked for they are of, from 0."""

    @property
    def hue(self) -> float | None:
        """Of the main colour, degrees; None where it is white."""
        return hue_of(self.main)


def choices(asked: Sequence[Sequence[str]], scheme: int = 0) -> list[Colours]:
    """What looks may wear: the moods of a scheme, by any number, or what palettes that were asked for (CSS colours)
    have."""
    if asked:
        return [each for number, palette in enumerate(asked) for each in _from_palette(palette, number)]
    chosen = {mood: MOODS[mood] for mood in SCHEMES[scheme % len(SCHEMES)]}
    return [
        Colours(mood, _written(*LAMPS[main]), _written(*LAMPS[beside]), _written(*DEEPS[deep]))
        for mood, (main, beside, deep) in chosen.items()
    ]


def nearest_scheme(worn: Collection[str], usual: int) -> int:
    """The scheme with most of the colours (``#rrggbb``) that were ``worn``; ``usual`` where others have no more."""

    def shared(scheme: int) -> int:
        """How many of its colours were worn."""
        return len({colour for each in choices((), scheme) for colour in (each.main, each.beside, each.deep)} & {*worn})

    return max([usual, *range(len(SCHEMES))], key=shared) if worn else usual


def third(asked: Sequence[Sequence[str]], scheme: int = 0) -> str:
    """The colour that sweeps over the two of a full part: of what was asked for, the one that was asked for last."""
    return choices(asked)[-1].main if asked else _written(*LAMPS[THIRD[scheme % len(THIRD)]])


def _from_palette(palette: Sequence[str], number: int) -> list[Colours]:
    """Each colour of a palette in the lead once: hues as they were asked for, at the lightness that each part needs."""
    lch = [oklab_to_oklch(linear_to_oklab(parse_colour(colour))) for colour in palette]
    deep = min(lch, key=lambda each: each[0])
    behind = _written(min(max(deep[0], 0.3), 0.42), min(deep[1], 0.2), deep[2])
    shown = [_written(min(max(light, DARKEST), 0.9), chroma, hue) for light, chroma, hue in lch]
    pairs = [(shown[at], shown[(at + 1) % len(shown)]) for at in range(len(shown))]
    return [
        Colours(f"asked for {number}, {at}", main, beside, behind, number) for at, (main, beside) in enumerate(pairs)
    ]


def _written(lightness: float, chroma: float, hue: float) -> str:
    """``#rrggbb`` of a colour in OKLCH, its chroma lowered until lights can show it and no saturated red is left."""
    for _ in range(60):
        linear = np.asarray(oklch_to_linear((lightness, chroma, hue)))
        if linear.min() >= -0.004 and linear.max() <= 1.004 and linear[0] <= REDDEST * linear.sum():
            break
        chroma *= 0.97
    return hex_of(linear)


def lighter(colour: str) -> str:
    """The same hue, lighter and less pure: what a stroke is at its peak, and the other bulb of a garland."""
    light, chroma, hue = (float(each) for each in oklab_to_oklch(linear_to_oklab(parse_colour(colour))))
    if MINT[0] <= hue <= MINT[1]:
        return _written(min(light + 0.1, 0.95), 0.85 * chroma, hue)
    return _written(min(light + 0.18, 0.95), 0.55 * chroma, hue)


@cache
def hue_of(colour: str) -> float | None:
    """Degrees of a colour's hue; None where it is nearly white."""
    _, chroma, hue = oklab_to_oklch(linear_to_oklab(parse_colour(colour)))
    return float(hue) if chroma >= COLOURED else None


def yellow(colour: str) -> bool:
    """Whether a colour is amber, yellow or candlelight: blue light beside it makes it peach or grey."""
    _, chroma, hue = oklab_to_oklch(linear_to_oklab(parse_colour(colour)))
    return float(chroma) >= COLOURED / 2 and YELLOW[0] <= float(hue) <= YELLOW[1]


def apart(one: Colours, other: Colours) -> bool:
    """Whether two looks are told apart at once by the hue that leads in them."""
    return not close(one.main, other.main)


@cache
def close(one: str, other: str) -> bool:
    """Whether two colours are of one hue, or both white."""
    mine, yours = hue_of(one), hue_of(other)
    if mine is None or yours is None:
        return mine is yours
    return abs((mine - yours + 180) % 360 - 180) < APART


def luminance(colour: str) -> float:
    """Relative luminance, 0 to 1, of a CSS colour (IEC 61966-2-1)."""
    return float(np.dot(parse_colour(colour), (0.2126, 0.7152, 0.0722)))
