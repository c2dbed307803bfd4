"""Blending one cue's tile over what lies below it.

Formulas: W3C Compositing and Blending Level 1, sections 5 (source-over), 9.1 (separable) and 9.2 (non-separable);
``plus-lighter`` is Level 2's. The standard blends encoded values over a backdrop that may be see-through; here the
values are linear light, as light adds, and the backdrop is the dark house, which is opaque. With an opaque
backdrop the standard's formula is ``(1 - alpha) * below + alpha * B(below, source)``.
"""

from __future__ import annotations

from numpy import float32 as f

from eavesong.kernels.fast import lane, max, min, sqrt
from eavesong.kernels.lanes import select

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
"""The blend modes, by the standard's names."""


@lane
def source_over(below, source):
    return source


@lane
def multiply(below, source):
    return below * source


@lane
def screen(below, source):
    return below + source - below * source


@lane
def darken(below, source):
    return min(below, source)


@lane
def lighten(below, source):
    return max(below, source)


@lane
def hard_light(below, source):
    doubled = f(2) * source
    return select(source <= f(0.5), multiply(below, doubled), screen(below, doubled - f(1)))


@lane
def overlay(below, source):
    return hard_light(source, below)


@lane
def soft_light(below, source):
    curve = ((f(16) * below - f(12)) * below + f(4)) * below
    deep = select(below <= f(0.25), curve, sqrt(below))
    darker = below - (f(1) - f(2) * source) * below * (f(1) - below)
    lighter = below + (f(2) * source - f(1)) * (deep - below)
    return select(source <= f(0.5), darker, lighter)


@lane
def color_dodge(below, source):
    ratio = below / select(source < f(1), f(1) - source, f(1))
    lit = select(source >= f(1), f(1), min(f(1), ratio))
    return select(below == f(0), f(0), lit)


@lane
def color_burn(below, source):
    ratio = (f(1) - below) / select(source > f(0), source, f(1))
    burnt = select(source <= f(0), f(0), f(1) - min(f(1), ratio))
    return select(below >= f(1), f(1), burnt)


@lane
def difference(below, source):
    return max(below, source) - min(below, source)


@lane
def exclusion(below, source):
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


@lane
def hue(r, g, b, sr, sg, sb):
    sr, sg, sb = _with_saturation(sr, sg, sb, _saturation_of(r, g, b))
    return _with_luminosity(sr, sg, sb, _luminosity_of(r, g, b))


@lane
def saturation(r, g, b, sr, sg, sb):
    mr, mg, mb = _with_saturation(r, g, b, _saturation_of(sr, sg, sb))
    return _with_luminosity(mr, mg, mb, _luminosity_of(r, g, b))


@lane
def color(r, g, b, sr, sg, sb):
    return _with_luminosity(sr, sg, sb, _luminosity_of(r, g, b))


@lane
def luminosity(r, g, b, sr, sg, sb):
    return _with_luminosity(r, g, b, _luminosity_of(sr, sg, sb))


@lane
def plus_lighter(below, source, alpha):
    """Light adds: what the cue gives, on top of what is there, up to full."""
    return min(f(1), below + alpha * source)


def blending(mode: str) -> tuple[str, ...]:
    """Source lines that blend a pixel's colour over what lies below it, for the loop of a kernel.

    They read ``r, g, b`` (below), ``sr, sg, sb`` (the cue's colour) and ``alpha`` (its level times weight and
    strength), all float32, and set ``r, g, b``.
    """
    name = mode.replace("-", "_")
    if mode == "plus-lighter":
        return tuple(f"{c} = blend.plus_lighter({c}, s{c}, alpha)" for c in "rgb")
    mixed: tuple[str, ...]
    if mode in ("hue", "saturation", "color", "luminosity"):
        mixed = (f"mr, mg, mb = blend.{name}(r, g, b, sr, sg, sb)",)
    else:
        mixed = tuple(f"m{c} = blend.{name}({c}, s{c})" for c in "rgb")
    return mixed + tuple(f"{c} = {c} + alpha * (m{c} - {c})" for c in "rgb")
