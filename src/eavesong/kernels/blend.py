"""Blending one cue's tile over what lies below it.

Formulas: W3C Compositing and Blending Level 1, sections 5 (source-over), 9.1 (separable) and 9.2 (non-separable);
``plus-lighter`` is Level 2's. The standard blends encoded values over a backdrop that may be see-through; here the
values are linear light, as light adds, and the backdrop is the dark house, which is opaque. With an opaque
backdrop the standard's formula is ``(1 - alpha) * below + alpha * B(below, source)``.
"""

from __future__ import annotations

from numba import njit
from numpy import float32 as f

from eavesong.kernels.fast import MATHS, lane, max, min, sqrt, unit
from eavesong.kernels.lanes import TILE, select

MODES = (
    "source-over",
    "multiply",
    "screen",
    "darken",
    "lighten",
    "overlay",
    "hard-light",
    "soft-light",
    "color-dodge",
    "color-burn",
    "difference",
    "exclusion",
    "plus-lighter",
    "hue",
    "saturation",
    "color",
    "luminosity",
)
"""The blend modes; a mode's number in the kernels is its position here."""


@lane
def _source_over(below, source):
    return source


@lane
def _multiply(below, source):
    return below * source


@lane
def _screen(below, source):
    return below + source - below * source


@lane
def _hard_light(below, source):
    doubled = f(2) * source
    return select(source <= f(0.5), _multiply(below, doubled), _screen(below, doubled - f(1)))


@lane
def _overlay(below, source):
    return _hard_light(source, below)


@lane
def _soft_light(below, source):
    curve = ((f(16) * below - f(12)) * below + f(4)) * below
    deep = select(below <= f(0.25), curve, sqrt(below))
    darker = below - (f(1) - f(2) * source) * below * (f(1) - below)
    lighter = below + (f(2) * source - f(1)) * (deep - below)
    return select(source <= f(0.5), darker, lighter)


@lane
def _color_dodge(below, source):
    ratio = below / select(source < f(1), f(1) - source, f(1))
    lit = select(source >= f(1), f(1), min(f(1), ratio))
    return select(below == f(0), f(0), lit)


@lane
def _color_burn(below, source):
    ratio = (f(1) - below) / select(source > f(0), source, f(1))
    burnt = select(source <= f(0), f(0), f(1) - min(f(1), ratio))
    return select(below >= f(1), f(1), burnt)


@lane
def _difference(below, source):
    return max(below, source) - min(below, source)


@lane
def _exclusion(below, source):
    return below + source - f(2) * below * source


@lane
def _luminosity_of(r, g, b):
    return f(0.3) * r + f(0.59) * g + f(0.11) * b


@lane
def _clip(value, light, low, high):
    """One channel of ClipColor: pull a colour of luminosity ``light`` back into 0..1 along the grey axis."""
    under = light - low
    over = high - light
    value = select(low < f(0), light + (value - light) * light / select(under == f(0), f(1), under), value)
    scaled = light + (value - light) * (f(1) - light) / select(over == f(0), f(1), over)
    return select(high > f(1), scaled, value)


@lane
def _with_luminosity(r, g, b, light):
    """SetLum: the colour shifted to the luminosity ``light`` and clipped."""
    shift = light - _luminosity_of(r, g, b)
    r, g, b = r + shift, g + shift, b + shift
    low, high = min(r, min(g, b)), max(r, max(g, b))
    return _clip(r, light, low, high), _clip(g, light, low, high), _clip(b, light, low, high)


@lane
def _saturation_of(r, g, b):
    return max(r, max(g, b)) - min(r, min(g, b))


@lane
def _with_saturation(r, g, b, spread):
    """SetSat: smallest channel to 0, largest to ``spread``, the middle in proportion."""
    low, high = min(r, min(g, b)), max(r, max(g, b))
    scale = select(high > low, spread / select(high > low, high - low, f(1)), f(0))
    return (r - low) * scale, (g - low) * scale, (b - low) * scale


def _separable(blend):
    @njit(nogil=True, fastmath=MATHS, error_model="numpy", inline="never")
    def over(below, source, weight, strength):
        for n in range(TILE):
            alpha = unit(source[0, n]) * weight[n] * strength
            for c in range(3):
                under = below[c, n]
                mixed = blend(under, unit(source[c + 1, n]))
                below[c, n] = under + alpha * (mixed - under)

    return over


def _whole_colour(blend):
    @njit(nogil=True, fastmath=MATHS, error_model="numpy", inline="never")
    def over(below, source, weight, strength):
        for n in range(TILE):
            alpha = unit(source[0, n]) * weight[n] * strength
            r, g, b = below[0, n], below[1, n], below[2, n]
            red, green, blue = blend(r, g, b, unit(source[1, n]), unit(source[2, n]), unit(source[3, n]))
            below[0, n] = r + alpha * (red - r)
            below[1, n] = g + alpha * (green - g)
            below[2, n] = b + alpha * (blue - b)

    return over


@lane
def _hue(r, g, b, sr, sg, sb):
    sr, sg, sb = _with_saturation(sr, sg, sb, _saturation_of(r, g, b))
    return _with_luminosity(sr, sg, sb, _luminosity_of(r, g, b))


@lane
def _saturation(r, g, b, sr, sg, sb):
    mr, mg, mb = _with_saturation(r, g, b, _saturation_of(sr, sg, sb))
    return _with_luminosity(mr, mg, mb, _luminosity_of(r, g, b))


@lane
def _color(r, g, b, sr, sg, sb):
    return _with_luminosity(sr, sg, sb, _luminosity_of(r, g, b))


@lane
def _luminosity(r, g, b, sr, sg, sb):
    return _with_luminosity(r, g, b, _luminosity_of(sr, sg, sb))


@njit(nogil=True, fastmath=MATHS, error_model="numpy", inline="never")
def _plus_lighter(below, source, weight, strength):
    for n in range(TILE):
        alpha = unit(source[0, n]) * weight[n] * strength
        for c in range(3):
            below[c, n] = min(f(1), below[c, n] + alpha * unit(source[c + 1, n]))


_over_source = _separable(_source_over)
_over_multiply = _separable(_multiply)
_over_screen = _separable(_screen)
_over_darken = _separable(min)
_over_lighten = _separable(max)
_over_overlay = _separable(_overlay)
_over_hard_light = _separable(_hard_light)
_over_soft_light = _separable(_soft_light)
_over_color_dodge = _separable(_color_dodge)
_over_color_burn = _separable(_color_burn)
_over_difference = _separable(_difference)
_over_exclusion = _separable(_exclusion)
_over_hue = _whole_colour(_hue)
_over_saturation = _whole_colour(_saturation)
_over_color = _whole_colour(_color)
_over_luminosity = _whole_colour(_luminosity)


@njit(nogil=True, error_model="numpy")
def blend_tile(mode, below, source, weight, strength):
    """Blend ``source`` over ``below`` in place.

    mode: position in MODES. below: float32 (3, TILE), linear light. source: float32 (4, TILE): level, red, green,
    blue, held within 0..1 here. weight: float32 (TILE,) 0..1, which pixels the cue lights. strength: float32,
    the cue's opacity and fade in this frame.
    """
    if mode == 0:
        _over_source(below, source, weight, strength)
    elif mode == 1:
        _over_multiply(below, source, weight, strength)
    elif mode == 2:
        _over_screen(below, source, weight, strength)
    elif mode == 3:
        _over_darken(below, source, weight, strength)
    elif mode == 4:
        _over_lighten(below, source, weight, strength)
    elif mode == 5:
        _over_overlay(below, source, weight, strength)
    elif mode == 6:
        _over_hard_light(below, source, weight, strength)
    elif mode == 7:
        _over_soft_light(below, source, weight, strength)
    elif mode == 8:
        _over_color_dodge(below, source, weight, strength)
    elif mode == 9:
        _over_color_burn(below, source, weight, strength)
    elif mode == 10:
        _over_difference(below, source, weight, strength)
    elif mode == 11:
        _over_exclusion(below, source, weight, strength)
    elif mode == 12:
        _plus_lighter(below, source, weight, strength)
    elif mode == 13:
        _over_hue(below, source, weight, strength)
    elif mode == 14:
        _over_saturation(below, source, weight, strength)
    elif mode == 15:
        _over_color(below, source, weight, strength)
    else:
        _over_luminosity(below, source, weight, strength)
