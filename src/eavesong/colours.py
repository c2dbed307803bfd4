"""Colours as people write them, and as light: CSS Color 4 in, linear-light sRGB out.

Everywhere inside eavesong a colour is three floats of *linear light*, red, green and blue, 0 to 1: twice the
number is twice the light. Encoded sRGB (what #808080 says) and OKLab appear only at the edges. All functions
on arrays work on ``(..., 3)`` float64 and treat the last axis as the colour.

Sources: CSS Color Module Level 4 (W3C) for the syntax, the names, hsl() and the matrices; IEC 61966-2-1:1999
for the sRGB curve; B. Ottosson, "A perceptual color space for image processing", 2020, for OKLab.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from eavesong.errors import MisfitError, advise, nearest
from eavesong.words import number_meant

Array = NDArray[np.float64]
Matrix = tuple[tuple[float, float, float], ...]
Colour = tuple[float, float, float]
"""Linear light: red, green, blue, each 0..1."""
Stop = Colour | tuple[float | None, Colour]
"""One colour of a palette, with or without its position 0..1."""

_TABLE = """
    aliceblue f0f8ff, antiquewhite faebd7, aqua 00ffff, aquamarine 7fffd4, azure f0ffff, beige f5f5dc,
    bisque ffe4c4, black 000000, blanchedalmond ffebcd, blue 0000ff, blueviolet 8a2be2, brown a52a2a,
    burlywood deb887, cadetblue 5f9ea0, chartreuse 7fff00, chocolate d2691e, coral ff7f50, cornflowerblue 6495ed,
    cornsilk fff8dc, crimson dc143c, cyan 00ffff, darkblue 00008b, darkcyan 008b8b, darkgoldenrod b8860b,
    darkgray a9a9a9, darkgreen 006400, darkgrey a9a9a9, darkkhaki bdb76b, darkmagenta 8b008b,
    darkolivegreen 556b2f, darkorange ff8c00, darkorchid 9932cc, darkred 8b0000, darksalmon e9967a,
    darkseagreen 8fbc8f, darkslateblue 483d8b, darkslategray 2f4f4f, darkslategrey 2f4f4f, darkturquoise 00ced1,
    darkviolet 9400d3, deeppink ff1493, deepskyblue 00bfff, dimgray 696969, dimgrey 696969, dodgerblue 1e90ff,
    firebrick b22222, floralwhite fffaf0, forestgreen 228b22, fuchsia ff00ff, gainsboro dcdcdc,
    ghostwhite f8f8ff, gold ffd700, goldenrod daa520, gray 808080, green 008000, greenyellow adff2f, grey 808080,
    honeydew f0fff0, hotpink ff69b4, indianred cd5c5c, indigo 4b0082, ivory fffff0, khaki f0e68c,
    lavender e6e6fa, lavenderblush fff0f5, lawngreen 7cfc00, lemonchiffon fffacd, lightblue add8e6,
    lightcoral f08080, lightcyan e0ffff, lightgoldenrodyellow fafad2, lightgray d3d3d3, lightgreen 90ee90,
    lightgrey d3d3d3, lightpink ffb6c1, lightsalmon ffa07a, lightseagreen 20b2aa, lightskyblue 87cefa,
    lightslategray 778899, lightslategrey 778899, lightsteelblue b0c4de, lightyellow ffffe0, lime 00ff00,
    limegreen 32cd32, linen faf0e6, magenta ff00ff, maroon 800000, mediumaquamarine 66cdaa, mediumblue 0000cd,
    mediumorchid ba55d3, mediumpurple 9370db, mediumseagreen 3cb371, mediumslateblue 7b68ee,
    mediumspringgreen 00fa9a, mediumturquoise 48d1cc, mediumvioletred c71585, midnightblue 191970,
    mintcream f5fffa, mistyrose ffe4e1, moccasin ffe4b5, navajowhite ffdead, navy 000080, oldlace fdf5e6,
    olive 808000, olivedrab 6b8e23, orange ffa500, orangered ff4500, orchid da70d6, palegoldenrod eee8aa,
    palegreen 98fb98, paleturquoise afeeee, palevioletred db7093, papayawhip ffefd5, peachpuff ffdab9,
    peru cd853f, pink ffc0cb, plum dda0dd, powderblue b0e0e6, purple 800080, rebeccapurple 663399, red ff0000,
    rosybrown bc8f8f, royalblue 4169e1, saddlebrown 8b4513, salmon fa8072, sandybrown f4a460, seagreen 2e8b57,
    seashell fff5ee, sienna a0522d, silver c0c0c0, skyblue 87ceeb, slateblue 6a5acd, slategray 708090,
    slategrey 708090, snow fffafa, springgreen 00ff7f, steelblue 4682b4, tan d2b48c, teal 008080, thistle d8bfd8,
    tomato ff6347, turquoise 40e0d0, violet ee82ee, wheat f5deb3, white ffffff, whitesmoke f5f5f5, yellow ffff00,
    yellowgreen 9acd32
"""
NAMES: dict[str, str] = dict(entry.split() for entry in _TABLE.split(","))
"""The 148 named colours of CSS Color 4, section 6.1, each as six hex digits."""

# Linear sRGB to the cone responses of OKLab and back: the exact product of the matrices in CSS Color 4,
# section 18 (linear sRGB to XYZ D65, XYZ D65 to LMS). Written out, so that no library's rounding enters.
LINEAR_TO_LMS: Matrix = (
    (0.412221469470763, 0.5363325372617348, 0.0514459932675022),
    (0.21190349581782522, 0.6806995506452344, 0.10739695353694055),
    (0.08830245919005643, 0.2817188391361215, 0.6299787016738221),
)
LMS_TO_LINEAR: Matrix = (
    (4.076741636075958, -3.307711539258062, 0.2309699031821045),
    (-1.268437973285032, 2.6097573492876887, -0.34131937600265727),
    (-0.004196076138675557, -0.7034186179359363, 1.7076146940746117),
)
ROOTS_TO_LAB: Matrix = (
    (0.2104542683093140, 0.7936177747023054, -0.0040720430116193),
    (1.9779985324311684, -2.4285922420485799, 0.4505937096174110),
    (0.0259040424655478, 0.7827717124575296, -0.8086757549230774),
)
LAB_TO_ROOTS: Matrix = (
    (1.0, 0.3963377773761749, 0.2158037573099136),
    (1.0, -0.1055613458156586, -0.0638541728258133),
    (1.0, -0.0894841775298119, -1.2914855480194092),
)


def _times(matrix: Matrix, colours: ArrayLike) -> Array:
    """Each colour times ``matrix``, written out so that an entry never depends on the array around it."""
    first, second, third = np.moveaxis(np.asarray(colours, np.float64), -1, 0)
    return np.stack([row[0] * first + row[1] * second + row[2] * third for row in matrix], axis=-1)


def srgb_decode(encoded: ArrayLike) -> Array:
    """Linear light of sRGB-encoded values, any shape; 0 to 0, 1 to 1, odd about 0.

    Source: IEC 61966-2-1:1999, section 5.2; negative values as in CSS Color 4, section 10.2.
    """
    value = np.asarray(encoded, np.float64)
    size = np.abs(value)
    return np.copysign(np.where(size <= 0.04045, size / 12.92, ((size + 0.055) / 1.055) ** 2.4), value)


def srgb_encode(linear: ArrayLike) -> Array:
    """sRGB-encoded values of linear light, any shape: the inverse of ``srgb_decode``.

    Source: IEC 61966-2-1:1999, section 5.2; negative values as in CSS Color 4, section 10.2.
    """
    light = np.asarray(linear, np.float64)
    size = np.abs(light)
    return np.copysign(np.where(size <= 0.0031308, size * 12.92, 1.055 * size ** (1 / 2.4) - 0.055), light)


def hex_of(linear: ArrayLike) -> str:
    """``#rrggbb`` of a colour in linear light, (3,); what lies outside 0..1 is held at its end."""
    encoded = np.round(255 * srgb_encode(np.clip(np.asarray(linear, np.float64), 0, 1))).astype(int)
    return "#" + "".join(f"{channel:02x}" for channel in encoded.tolist())


def linear_to_oklab(linear: ArrayLike) -> Array:
    """OKLab (L 0..1, a, b about -0.4..0.4) of linear light, ``(..., 3)``. Source: Ottosson 2020; CSS Color 4."""
    return _times(ROOTS_TO_LAB, np.cbrt(_times(LINEAR_TO_LMS, linear)))


def nearest_colour(light: Sequence[float], among: Sequence[Colour]) -> Colour:
    """The one ``among`` colours in linear light that looks most like another: the nearest in OKLab."""
    apart = linear_to_oklab(np.array(among)) - linear_to_oklab(np.array(light))
    return among[int(np.argmin((apart**2).sum(axis=-1)))]


def as_bright(wished: Sequence[Colour], own: Sequence[Colour]) -> list[Colour]:
    """Colours in linear light, dimmed together where they are brighter than ``own``: the brightest channel of all of
    them is no brighter than the brightest of those."""
    most, have = (max(channel for light in lights for channel in light) for lights in (wished, own))
    share = min(1.0, have / most) if most else 1.0
    return [(red * share, green * share, blue * share) for red, green, blue in wished]


HUE, CODE = 15.0, 5.0
"""Degrees of hue (OKLCH) within which a colour is called by the name of another, and within which it is a shade of one
that is told by a code: who writes one means that colour, but for whites of lamps, which all are of some such hue."""
REACH = {
    "red": (10.0, 40.0), "orange": (40.0, 85.0), "yellow": (85.0, 122.0), "green": (122.0, 168.0),
    "cyan": (168.0, 213.0), "aqua": (168.0, 213.0), "turquoise": (168.0, 213.0), "blue": (213.0, 292.0),
    "violet": (292.0, 336.0), "purple": (292.0, 336.0), "magenta": (313.0, 343.0), "fuchsia": (313.0, 343.0),
    "pink": (343.0, 370.0),
}  # fmt: skip
"""Likewise of the words that people use most, from one hue to another: azure and slate blue are blue to whoever wants
no blue, orange is not red. But for a few greyish ones they hold what CSS Color 4 (section 6.1) calls by them."""
PALE, WARM = 0.16, (50.0, 100.0)
"""Chroma as a share of lightness (OKLCH) below which colours of these hues, in degrees, are whites of lamps to whoever
speaks of hues: 0.15 for #ffb46b, 0.22 for orange."""
COLOURED = 0.04
"""Chroma (OKLCH) above which a colour has a hue; that of #ffd6a1, a warm white, is 0.08."""


def hue_of(light: Sequence[float]) -> float | None:
    """Degrees of hue (OKLCH) of a colour in linear light; None of black, grey and white."""
    _, chroma, hue = oklab_to_oklch(linear_to_oklab(light)).tolist()
    return float(hue) if chroma > COLOURED else None


class Hue(NamedTuple):
    """A hue that people speak of: degrees of OKLCH, and from where to where it reaches, on through 360."""

    at: float
    first: float
    last: float
    white: bool = False
    """Whether whites of lamps are meant, too: it was told by one."""

    def holds(self, hue: float) -> bool:
        """Whether another is called by its name."""
        return (hue - self.first) % 360 <= self.last - self.first

    def apart(self, hue: float) -> float:
        """Degrees between it and another, 0..180."""
        return abs((hue - self.at + 180) % 360 - 180)


def spoken_hue(name: str) -> Hue | None:
    """What somebody means by the name, or the code, of a colour; None of black, grey and white."""
    hue, white = hue_of(parse_colour(name)), not has_hue(parse_colour(name))
    plain = name.strip().lower()
    near = HUE if white or plain in NAMES else CODE
    return None if hue is None else Hue(hue, *REACH.get(plain, (hue - near, hue + near)), white)


def has_hue(light: ArrayLike) -> NDArray[np.bool_]:
    """(...): whether colours (..., 3) in linear light are of a hue to whoever speaks of one: no grey, and no white of
    lamps."""
    lightness, chroma, hue = np.moveaxis(oklab_to_oklch(linear_to_oklab(light)), -1, 0)
    white = (chroma < PALE * lightness) & (hue > WARM[0]) & (hue < WARM[1])
    return np.asarray((chroma > COLOURED) & ~white)


def recoloured(light: Colour, wishes: Sequence[tuple[Hue, Colour]]) -> Colour:
    """What is seen in place of a colour: of ``wishes``, (hue, linear light), the one whose hue is nearest of those that
    reach it, of equals the one that reaches least far; its brightest channel as bright as the colour's, and as pale.

    The colour itself where there is none, or where it is a white of lamps and none of those means one.
    """
    wished = _wish_for(light, wishes)
    return light if wished is None else _in(light, wished)


TOGETHER = 45.0
"""Degrees of hue (OKLCH) within which the colours of one effect are shades of one thing, as of a flame."""


def recoloured_together(lights: Sequence[Colour], wishes: Sequence[tuple[Hue, Colour]]) -> list[Colour]:
    """The same for colours that an effect mixes: one of a hue near another's that is replaced goes along with it, or
    what they mix to would be of hues that nobody wished."""
    wished = [_wish_for(light, wishes) for light in lights]
    hues = [hue_of(light) for light in lights]
    found = []
    for light, hue, own in zip(lights, hues, wished, strict=True):
        near = [(abs((hue - other + 180) % 360 - 180), at) for at, other in enumerate(hues)
                if own is None and hue is not None and other is not None and wished[at] is not None]  # fmt: skip
        apart, at = min(near, default=(360.0, 0))
        instead = wished[at] if apart <= TOGETHER else own
        found.append(light if instead is None else _in(light, instead))
    return found


def _wish_for(light: Colour, wishes: Sequence[tuple[Hue, Colour]]) -> Colour | None:
    """The wish that takes the place of a colour, in linear light; None where none does."""
    hue = hue_of(light) if wishes else None
    wishes = wishes if hue is None or has_hue(light) else [each for each in wishes if each[0].white]
    near = [
        (round(spoken.apart(hue)), spoken.last - spoken.first, at)
        for at, (spoken, _) in enumerate(wishes)
        if hue is not None and spoken.holds(hue)
    ]
    return wishes[min(near)[2]][1] if near else None


def _in(light: Colour, wished: Colour) -> Colour:
    """A colour in the hue of another, as bright in its brightest channel and as pale as it is."""
    top, most = max(light), max(max(wished), 1e-9)
    pale = min(light) / top
    red, green, blue = (top * (pale + (1 - pale) * each / most) if any(wished) else 0.0 for each in wished)
    return red, green, blue


def oklab_to_linear(lab: ArrayLike) -> Array:
    """Linear light of OKLab, ``(..., 3)``; outside 0..1 where sRGB has no such colour. Source: CSS Color 4."""
    return _times(LMS_TO_LINEAR, _times(LAB_TO_ROOTS, lab) ** 3)


def oklch_to_oklab(lch: ArrayLike) -> Array:
    """OKLab of OKLCH (lightness 0..1, chroma from 0, hue in degrees), ``(..., 3)``. Source: CSS Color 4, 9.4."""
    lightness, chroma, hue = np.moveaxis(np.asarray(lch, np.float64), -1, 0)
    angle = np.radians(hue)
    return np.stack([lightness, chroma * np.cos(angle), chroma * np.sin(angle)], axis=-1)


def oklab_to_oklch(lab: ArrayLike) -> Array:
    """OKLCH of OKLab, ``(..., 3)``; hue in degrees 0..360 (0 for greys). Source: CSS Color 4, 9.4."""
    lightness, a, b = np.moveaxis(np.asarray(lab, np.float64), -1, 0)
    chroma = np.hypot(a, b)
    hue = np.where(chroma <= 4e-6, 0.0, np.degrees(np.arctan2(b, a)) % 360)
    return np.stack([lightness, chroma, hue], axis=-1)


def oklch_to_linear(lch: ArrayLike) -> Array:
    """Linear light of OKLCH (0..1, from 0, degrees), ``(..., 3)``, not clipped."""
    return oklab_to_linear(oklch_to_oklab(lch))


def hsl_to_srgb(hsl: ArrayLike) -> Array:
    """sRGB-encoded colour of hue in degrees, saturation 0..1, lightness 0..1, ``(..., 3)``.

    Source: CSS Color 4, section 7.1 (``hslToRgb``).
    """
    hue, saturation, lightness = np.moveaxis(np.asarray(hsl, np.float64), -1, 0)
    reach = saturation * np.minimum(lightness, 1 - lightness)

    def channel(offset: int) -> Array:
        """One encoded channel from 0 to 1: 0, 8 and 4 twelfths of the circle away for red, green and blue."""
        twelfth = (offset + hue / 30) % 12
        value: Array = lightness - reach * np.maximum(-1, np.minimum(np.minimum(twelfth - 3, 9 - twelfth), 1))
        return value

    return np.stack([channel(0), channel(8), channel(4)], axis=-1)


def hsl_to_linear(hsl: ArrayLike) -> Array:
    """Linear light of hue in degrees, saturation 0..1, lightness 0..1, ``(..., 3)``, not clipped."""
    return srgb_decode(hsl_to_srgb(hsl))


LONGEST = 120
"""Characters of the longest text read as a colour."""
_NUMBER = re.compile(r"([+-]?(?:\d+|\d*\.\d+)(?:e[+-]?\d+)?)(%|deg|grad|rad|turn)?", re.ASCII)
_CALL = re.compile(r"([a-z]+)\(\s*(.*?)\s*\)")
_DEGREES = {"": 1.0, "deg": 1.0, "grad": 0.9, "rad": 180 / math.pi, "turn": 360.0}
_EXAMPLES = {
    "rgb": "rgb(255 140 0)",
    "hsl": "hsl(33 100% 50%)",
    "oklab": "oklab(0.75 0.06 0.16)",
    "oklch": "oklch(75% 0.17 70)",
}
_OPAQUE = "Leave the alpha out; a cue's opacity lets the light below it through."


def parse_colour(text: str) -> Colour:
    """The linear light (r, g, b), 0..1, of a colour as CSS Color 4 writes it.

    Names, ``#rgb``, ``#rrggbb``, ``rgb()``, ``hsl()``, ``oklab()`` and ``oklch()`` in the modern syntax, the first
    two functions also in the older one with commas; numbers, percentages, angles and ``none`` (counts as 0);
    letters of either case. A colour sRGB does not have, like ``oklch(0.7 0.4 150)``, is clipped channel by channel
    in linear light: that is what lights do with a colour an effect computes, so both look the same.
    Raises MisfitError, also for any alpha: a light covers nothing.
    """
    plain = text.strip().lower()
    if len(plain) > LONGEST:
        raise MisfitError(f"a colour has at most {LONGEST} characters", "Write a name, or a hex code like #ff8c00.")
    if plain.startswith("#"):
        return _lit(srgb_decode(_hex(plain[1:])))
    if call := _CALL.fullmatch(plain):
        return _function(call[1], call[2])
    if plain in NAMES:
        return _lit(srgb_decode(_hex(NAMES[plain])))
    if plain in ("transparent", "currentcolor"):
        raise MisfitError(f"'{plain}' is not light of a colour of its own", "Write 'black' for no light.")
    if advice := number_meant(plain):
        raise MisfitError(f"'{text.strip()}' is a number, where a colour belongs", advice)
    raise MisfitError(f"no colour is called '{text.strip()}'", _name_advice(plain))


def is_colour(text: str) -> bool:
    """Whether `parse_colour` can read ``text``."""
    try:
        parse_colour(text)
    except MisfitError:
        return False
    return True


MEANT = {"amber": "'orange' or 'gold'"}
"""What people call colours that have no such name in CSS, and which of its names they mean."""


def meant_by(name: str) -> str:
    """Which names CSS has for a colour that people call so, as advice; empty where nothing is known of it."""
    word = name.strip().lower()
    known = word if word in MEANT else nearest(word, MEANT, 0.9)
    return f"Write {MEANT[known]}." if known else ""


def _name_advice(name: str) -> str:
    if meant := meant_by(name):
        return meant
    close = advise(name, NAMES, "colour")
    return close if close.startswith("Did you mean") else "Write a CSS name like 'gold', or a hex code like #ffd700."


def _lit(linear: Array) -> Colour:
    red, green, blue = (float(channel) for channel in np.clip(linear, 0.0, 1.0))
    return red, green, blue


def _hex(digits: str) -> list[float]:
    if len(digits) in (4, 8) and re.fullmatch("[0-9a-f]+", digits):
        raise MisfitError(f"'#{digits}' has an alpha channel", _OPAQUE)
    if len(digits) not in (3, 6) or not re.fullmatch("[0-9a-f]+", digits):
        raise MisfitError(f"'#{digits}' is not a hex colour", "Write three or six digits 0-9 a-f, like #ff8c00.")
    width = len(digits) // 3
    return [int(digits[at : at + width] * (2 // width), 16) / 255 for at in range(0, 3 * width, width)]


def _function(name: str, inside: str) -> Colour:
    name = {"rgba": "rgb", "hsla": "hsl"}.get(name, name)
    if name not in _EXAMPLES:
        raise MisfitError(f"no colour function is called '{name}'", advise(name, _EXAMPLES, "function"))
    parts, legacy = _arguments(name, inside)
    if name == "rgb":
        _check_legacy(name, parts, legacy)
        return _lit(srgb_decode(np.clip([_value(part, 255) / 255 for part in parts], 0, 1)))
    if name == "hsl":
        _check_legacy(name, parts, legacy)
        saturation, lightness = (_value(part, 100) / 100 for part in parts[1:])
        return _lit(hsl_to_linear([_angle(parts[0]), max(saturation, 0.0), lightness]))
    lightness = min(max(_value(parts[0], 1), 0.0), 1.0)
    if name == "oklab":
        return _lit(oklab_to_linear([lightness, _value(parts[1], 0.4), _value(parts[2], 0.4)]))
    return _lit(oklch_to_linear([lightness, max(_value(parts[1], 0.4), 0.0), _angle(parts[2])]))


def _arguments(name: str, inside: str) -> tuple[list[str], bool]:
    """The three arguments, and whether they stand in the older syntax with commas."""
    legacy = "," in inside
    if "/" in inside or (legacy and inside.count(",") == 3):
        raise MisfitError(f"{name}() has an alpha value", _OPAQUE)
    parts = [part.strip() for part in inside.split(",")] if legacy else inside.split()
    if len(parts) != 3 or (legacy and name not in ("rgb", "hsl")):
        raise MisfitError(f"{name}() does not hold three values with spaces between", f"Write {_EXAMPLES[name]}.")
    return parts, legacy


def _check_legacy(name: str, parts: list[str], legacy: bool) -> None:
    """The older syntax forbids what the modern one allows: ``none``, mixed units, bare saturation."""
    if not legacy:
        return
    percent = [part.endswith("%") for part in parts]
    fits = percent[1:] == [True, True] and not percent[0] if name == "hsl" else len(set(percent)) == 1
    if "none" in parts or not fits:
        raise MisfitError(f"{name}() with commas mixes numbers and percentages", f"Write {_EXAMPLES[name]}.")


def _value(part: str, whole: float) -> float:
    """A number, or a percentage of ``whole``."""
    number, unit = _number(part)
    if unit not in ("", "%"):
        raise MisfitError(f"'{part}' is an angle where a number stands", "Write a number or a percentage.")
    return number / 100 * whole if unit else number


def _angle(part: str) -> float:
    """An angle in degrees, 0 up to 360."""
    number, unit = _number(part)
    if unit == "%":
        raise MisfitError(f"'{part}' is not a hue", "Write degrees, like 210 or 210deg.")
    return number * _DEGREES[unit] % 360


def _number(part: str) -> tuple[float, str]:
    if part == "none":
        return 0.0, ""
    found = _NUMBER.fullmatch(part)
    if not found:
        raise MisfitError(f"'{part}' is not a number", "Write numbers like 0.5, 50% or, for a hue, 210deg.")
    number = float(found[1])
    if abs(number) > 1e6:
        raise MisfitError(f"'{part}' is too large a number", "Write a number below a million.")
    return number, found[2] or ""


def spread(stops: Sequence[Stop]) -> tuple[tuple[float, Colour], ...]:
    """Every stop with its position 0..1, in growing order: missing ones filled in.

    As the colour stops of a CSS gradient (CSS Images 3, section 3.4.3): a missing first position is 0, a missing
    last 1, a position below an earlier one is raised to it, and what is missing between is spread evenly.
    Raises ValueError for no stops, or a position outside 0..1.
    """
    if not stops:
        raise MisfitError("a palette needs at least one colour", "Add a colour, like 'gold'.")
    pairs = [stop if len(stop) == 2 else (None, stop) for stop in stops]
    places: list[float | None] = [place for place, _ in pairs]
    if any(place is not None and not 0 <= place <= 1 for place in places):
        raise MisfitError("a palette position lies outside 0 to 1", "Write 0 for the start, 1 for the end.")
    places[0] = 0.0 if places[0] is None else places[0]
    places[-1] = 1.0 if places[-1] is None else places[-1]
    known = [index for index, place in enumerate(places) if place is not None]
    heights = np.maximum.accumulate([place for place in places if place is not None])
    filled = np.interp(range(len(places)), known, heights)
    return tuple((float(place), colour) for place, (_, colour) in zip(filled, pairs, strict=True))


def palette_table(stops: Sequence[Stop], size: int = 256) -> NDArray[np.float32]:
    """The palette as float32 ``(size, 3)`` of linear light 0..1; entry i is the colour at i / (size - 1).

    ``stops`` are colours, or (position 0..1, colour) pairs; see ``spread``. Between stops colours are mixed in
    OKLab, as CSS Color 4, section 12 does, then clipped to what lights can show. Two stops at one position make a
    hard edge. Raises ValueError as ``spread`` does.
    """
    placed = spread(stops)
    places = [place for place, _ in placed]
    lab = linear_to_oklab([colour for _, colour in placed])
    at = np.linspace(0.0, 1.0, size)
    mixed = np.stack([np.interp(at, places, lab[:, axis]) for axis in range(3)], axis=-1)
    return np.clip(oklab_to_linear(mixed), 0.0, 1.0).astype(np.float32)
