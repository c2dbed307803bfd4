"""Blending one cue's light over what lies below it: every formula once, for the kernels and for the float64 reference.

Formulas: W3C Compositing and Blending Level 1, sections 5 (source-over), 9.1 (separable) and 9.2 (non-separable);
``plus-lighter`` is Level 2's. The standard blends encoded values over a backdrop that may be see-through; here the
values are linear light, as light adds, and the backdrop is the dark house, which is opaque. With an opaque
backdrop the standard's formula is ``(1 - alpha) * below + alpha * B(below, source)``.

A formula is a function of numpy arrays in the words below: ``f`` for a number, ``select``, ``min``, ``max``, ``sqrt``.
`blend_fast` compiles the same functions with float32 lanes in place of these words. A mode is called like its
function, with ``-`` for ``_``; nothing else lists them. numba is not imported here: show files need only the names.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike

from eavesong.kernels.exact import Floats, max, min, select, sqrt

Takes = Literal["channel", "colour", "light"]
Formula = Callable[..., Any]

f = float


@dataclass(frozen=True)
class Mode:
    """A blend mode: its formula, and what that takes and gives.

    ``channel``: B(below, source) of one channel. ``colour``: B of three channels below and three of the source, as
    a triple. ``light``: one channel of the light that results, from below, source and alpha.
    """

    formula: Formula
    takes: Takes


MODES: dict[str, Mode] = {}
"""The blend modes, by the standard's names."""


def mode(takes: Takes) -> Callable[[Formula], Formula]:
    """Enter the decorated formula into MODES."""

    def enter(formula: Formula) -> Formula:
        """Enter a formula under its own name and hand it back."""
        MODES[formula.__name__.replace("_", "-")] = Mode(formula, takes)
        return formula

    return enter


def blended(name: str, below: ArrayLike, source: ArrayLike, alpha: ArrayLike) -> Floats:
    """Light of float64 (3, ...) after blending ``source`` over ``below``, both (3, ...) and 0..1; alpha (...), 0..1."""
    under, over = np.asarray(below, np.float64), np.asarray(source, np.float64)
    formula, share = MODES[name].formula, np.asarray(alpha, np.float64)
    if MODES[name].takes == "light":
        return np.stack([formula(*pair, share) for pair in zip(under, over, strict=True)])
    if MODES[name].takes == "colour":
        mixed = formula(*under, *over)
    else:
        mixed = [formula(*pair) for pair in zip(under, over, strict=True)]
    return under + share * (np.stack(mixed) - under)


@mode("channel")
def source_over(below, source):
    """The source alone (section 5, simple alpha compositing)."""
    return source


@mode("channel")
def multiply(below, source):
    """Both multiplied (9.1)."""
    return below * source


@mode("channel")
def screen(below, source):
    """The complement of the complements multiplied (9.1)."""
    return below + source - below * source


@mode("channel")
def darken(below, source):
    """The smaller of both (9.1)."""
    return min(below, source)


@mode("channel")
def lighten(below, source):
    """The larger of both (9.1)."""
    return max(below, source)


@mode("channel")
def hard_light(below, source):
    """Multiply or screen, as the source says (9.1)."""
    doubled = f(2) * source
    return select(source <= f(0.5), multiply(below, doubled), screen(below, doubled - f(1)))


@mode("channel")
def overlay(below, source):
    """Multiply or screen, as what is below says (9.1)."""
    return hard_light(source, below)


@mode("channel")
def soft_light(below, source):
    """Darken or lighten gently, as the source says (9.1)."""
    curve = ((f(16) * below - f(12)) * below + f(4)) * below
    deep = select(below <= f(0.25), curve, sqrt(below))
    darker = below - (f(1) - f(2) * source) * below * (f(1) - below)
    lighter = below + (f(2) * source - f(1)) * (deep - below)
    return select(source <= f(0.5), darker, lighter)


@mode("channel")
def color_dodge(below, source):
    """What is below, brightened as the source says (9.1)."""
    ratio = below / select(source < f(1), f(1) - source, f(1))
    lit = select(source >= f(1), f(1), min(f(1), ratio))
    return select(below == f(0), f(0), lit)


@mode("channel")
def color_burn(below, source):
    """What is below, darkened as the source says (9.1)."""
    ratio = (f(1) - below) / select(source > f(0), source, f(1))
    burnt = select(source <= f(0), f(0), f(1) - min(f(1), ratio))
    return select(below >= f(1), f(1), burnt)


@mode("channel")
def difference(below, source):
    """The larger less the smaller (9.1)."""
    return max(below, source) - min(below, source)


@mode("channel")
def exclusion(below, source):
    """Like difference, with less contrast (9.1)."""
    return below + source - f(2) * below * source


def _luminosity_of(r, g, b):
    return f(0.3) * r + f(0.59) * g + f(0.11) * b


def _clip(value, light, low, high):
    """One channel of ClipColor: pull a colour of luminosity ``light`` back into 0..1 along the grey axis."""
    under = light - low
    over = high - light
    value = select(low < f(0), light + (value - light) * light / select(under == f(0), f(1), under), value)
    scaled = light + (value - light) * (f(1) - light) / select(over == f(0), f(1), over)
    return select(high > f(1), scaled, value)


def _with_luminosity(r, g, b, light):
    """SetLum: the colour shifted to the luminosity ``light`` and clipped."""
    shift = light - _luminosity_of(r, g, b)
    r, g, b = r + shift, g + shift, b + shift
    low, high = min(r, min(g, b)), max(r, max(g, b))
    return _clip(r, light, low, high), _clip(g, light, low, high), _clip(b, light, low, high)


def _saturation_of(r, g, b):
    return max(r, max(g, b)) - min(r, min(g, b))


def _with_saturation(r, g, b, spread):
    """SetSat: smallest channel to 0, largest to ``spread``, the middle in proportion."""
    low, high = min(r, min(g, b)), max(r, max(g, b))
    scale = select(high > low, spread / select(high > low, high - low, f(1)), f(0))
    return (r - low) * scale, (g - low) * scale, (b - low) * scale


@mode("colour")
def hue(r, g, b, sr, sg, sb):
    """The hue of the source, saturation and luminosity of what is below (9.2)."""
    sr, sg, sb = _with_saturation(sr, sg, sb, _saturation_of(r, g, b))
    return _with_luminosity(sr, sg, sb, _luminosity_of(r, g, b))


@mode("colour")
def saturation(r, g, b, sr, sg, sb):
    """The saturation of the source, hue and luminosity of what is below (9.2)."""
    mr, mg, mb = _with_saturation(r, g, b, _saturation_of(sr, sg, sb))
    return _with_luminosity(mr, mg, mb, _luminosity_of(r, g, b))


@mode("colour")
def color(r, g, b, sr, sg, sb):
    """Hue and saturation of the source, luminosity of what is below (9.2)."""
    return _with_luminosity(sr, sg, sb, _luminosity_of(r, g, b))


@mode("colour")
def luminosity(r, g, b, sr, sg, sb):
    """The luminosity of the source, hue and saturation of what is below (9.2)."""
    return _with_luminosity(r, g, b, _luminosity_of(sr, sg, sb))


@mode("light")
def plus_lighter(below, source, alpha):
    """Light adds: what the cue gives, on top of what is there, up to full."""
    return min(f(1), below + alpha * source)
