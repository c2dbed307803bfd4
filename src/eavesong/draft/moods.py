"""Colours for every look: two that contrast, a light one and a deep one, chosen in OKLCH.

They come from palettes somebody asked for, or from a few moods of our own. Parts that stand side by side differ in hue.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from eavesong.colours import linear_to_oklab, oklab_to_oklch, oklch_to_linear, parse_colour, srgb_encode

MOODS: dict[str, tuple[float, float, float]] = {
    "ember": (58.0, 30.0, 305.0),
    "brass": (78.0, 45.0, 245.0),
    "fir": (148.0, 55.0, 200.0),
    "mint": (172.0, 62.0, 275.0),
    "ice": (228.0, 64.0, 262.0),
    "dusk": (350.0, 65.0, 285.0),
    "rose": (15.0, 64.0, 285.0),
    "lamplight": (70.0, 235.0, 255.0),
}
"""Hues (degrees) of the three colours of a mood: the one that leads, the one beside it, and the deep one behind."""
MAIN, BESIDE, LIGHT, DEEP = (0.74, 0.22), (0.64, 0.22), (0.85, 0.15), (0.42, 0.17)
"""Lightness and chroma, in OKLCH, of the four colours of a look."""
GREEN_LEAST = 0.3
"""Light of green and blue together, against red, below which a red is too pure to come and go (WCAG 2.2 calls it
saturated from a quarter down)."""
APART = 60.0
"""Degrees of hue from which two looks are told apart at once (by eye)."""


@dataclass(frozen=True)
class Colours:
    """The colours of one look, as ``#rrggbb``."""

    mood: str
    main: str
    beside: str
    light: str
    deep: str
    hue: float
    """Of the main colour, degrees."""


def colours_for(levels: Mapping[str, int], asked: Sequence[Sequence[str]], rng: random.Random) -> dict[str, Colours]:
    """Colours for each letter: letters that are about as strong share a mood, and take turns in what leads in it.

    levels: how full each letter is, in the order in which they first come. asked: palettes as CSS colours; where there
    are none, moods of our own are drawn, in order around the ring of hues.
    """
    used = range(max(levels.values(), default=0) + 1)
    if asked:
        sets = {level: _from_palette(asked[at % len(asked)], at // len(asked)) for at, level in enumerate(used)}
    else:
        sets = {level: _of_mood(mood) for level, mood in zip(used, _along_the_ring(rng, len(used)), strict=True)}
    seen: dict[int, int] = {}
    found = {}
    for letter, level in levels.items():
        turn = seen[level] = seen.get(level, -1) + 1
        found[letter] = _turned(sets[level], turn)
    return found


def _along_the_ring(rng: random.Random, count: int) -> list[str]:
    """Moods one after the other around the ring of hues, so that levels far apart are colours far apart."""
    way = rng.choice((1, -1))
    names = [rng.choice(list(MOODS))]
    while len(names) < count:
        last = MOODS[names[-1]][0]
        names.append(min((name for name in MOODS if (way * (MOODS[name][0] - last)) % 360 >= APART),
                         key=lambda name: (way * (MOODS[name][0] - last)) % 360))  # fmt: skip
    return names


def _turned(colours: Colours, turn: int) -> Colours:
    """The same colours, with another of them in the lead every second time."""
    if turn % 2 == 0:
        return colours
    return replace(colours, main=colours.beside, beside=colours.main)


def _of_mood(mood: str) -> Colours:
    main, beside, deep = MOODS[mood]
    return Colours(
        mood, _written(*MAIN, main), _written(*BESIDE, beside), _written(*LIGHT, main), _written(*DEEP, deep), main
    )


def _from_palette(palette: Sequence[str], turn: int) -> Colours:
    """The colours of a palette that somebody asked for: their own hues, at the lightness that each part needs."""
    lch = [oklab_to_oklch(linear_to_oklab(parse_colour(colour))) for colour in palette]
    coloured = sorted(lch, key=lambda each: -each[1])[: max(2, len(lch) - 1)]
    coloured = coloured[turn % len(coloured) :] + coloured[: turn % len(coloured)]
    main, beside = coloured[0], coloured[1 % len(coloured)]
    light = max(lch, key=lambda each: each[0])
    deep = min(lch, key=lambda each: each[0])
    return Colours(
        "asked for",
        _written(min(max(main[0], 0.62), 0.9), main[1], main[2]),
        _written(min(max(beside[0], 0.55), 0.85), beside[1], beside[2]),
        _written(max(light[0], 0.85), min(light[1], 0.12), light[2]),
        _written(min(max(deep[0], 0.3), 0.45), min(deep[1], 0.16), deep[2]),
        float(main[2]),
    )


def _written(lightness: float, chroma: float, hue: float) -> str:
    """``#rrggbb`` of a colour in OKLCH, its chroma lowered until lights can show it and no pure red is left."""
    for _ in range(40):
        linear = np.asarray(oklch_to_linear((lightness, chroma, hue)))
        rest = float(linear[1] + linear[2])
        if linear.min() >= -1e-3 and linear.max() <= 1.001 and rest >= GREEN_LEAST * float(linear[0]):
            break
        chroma *= 0.94
    encoded = np.round(255 * srgb_encode(np.clip(linear, 0, 1))).astype(int)
    return "#" + "".join(f"{channel:02x}" for channel in encoded.tolist())


def towards(one: str, other: str, degrees: float) -> str:
    """``#rrggbb`` of a colour, its hue turned by up to ``degrees`` towards another's; as light and as strong."""
    a, b = (oklab_to_oklch(linear_to_oklab(parse_colour(colour))) for colour in (one, other))
    turn = (float(b[2] - a[2]) + 180) % 360 - 180
    return _written(float(a[0]), float(a[1]), float(a[2]) + min(max(turn, -degrees), degrees))


def luminance(colour: str) -> float:
    """Relative luminance, 0 to 1, of a CSS colour (IEC 61966-2-1)."""
    return float(np.dot(parse_colour(colour), (0.2126, 0.7152, 0.0722)))
