"""Blending one cue's tile over what lies below it.

Formulas: W3C Compositing and Blending Level 1, sections 5 (source-over), 9.1 (separable) and 9.2 (non-separable);
``plus-lighter`` is Level 2's. The standard blends encoded values over a backdrop that may be see-through; here the
values are linear light, as light adds, and the backdrop is the dark house, which is opaque. With an opaque
backdrop the standard's formula is ``(1 - alpha) * below + alpha * B(below, source)``.
"""

from __future__ import annotations

from typing import Any

from numpy import float32 as f

from eavesong.kernels.fast import lane, max, min, sqrt
from eavesong.kernels.lanes import select
from eavesong.kernels.store import compiled

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


_HEAD = '''"""Blends a tile over what lies below it: {mode}."""

from numba import cfunc
from numpy import float32 as f

from eavesong.kernels import blend, fast
from eavesong.kernels.lanes import BLEND, TILE, load, load_own, store


@cfunc(BLEND, cache=True, fastmath=fast.MATHS, error_model="numpy")
def kernel(below, source, weight, strength):
    for n in range(TILE):
        alpha = fast.unit(load(source, n)) * load(weight, n) * strength
        r, g, b = load_own(below, n), load_own(below, n + TILE), load_own(below, n + 2 * TILE)
        sr = fast.unit(load(source, n + TILE))
        sg = fast.unit(load(source, n + 2 * TILE))
        sb = fast.unit(load(source, n + 3 * TILE))
'''
_SEPARABLE = "        {c}m = blend.{name}({c}, s{c})\n"
_WHOLE = "        rm, gm, bm = blend.{name}(r, g, b, sr, sg, sb)\n"
_ADDED = "        {c}m = blend.{name}({c}, s{c}, alpha)\n"
_MIXED = "        store(below, n + {plane} * TILE, {c} + alpha * ({c}m - {c}))\n"
_GIVEN = "        store(below, n + {plane} * TILE, {c}m)\n"


def blend_kernel(mode: str) -> Any:
    """The compiled blend mode: a numba cfunc of below, source, weight and strength, in place.

    below: float32 (3, TILE), linear light. source: float32 (4, TILE): level, red, green, blue, held within 0..1
    here. weight: float32 (TILE,) 0..1, which pixels the cue lights. strength: the cue's opacity and fade in this
    frame.
    """
    name = mode.replace("-", "_")
    whole = mode in ("hue", "saturation", "color", "luminosity")
    added = mode == "plus-lighter"
    source = _HEAD.format(mode=mode)
    if whole:
        source += _WHOLE.format(name=name)
    else:
        source += "".join((_ADDED if added else _SEPARABLE).format(name=name, c=c) for c in "rgb")
    source += "".join((_GIVEN if added else _MIXED).format(plane=plane, c=c) for plane, c in enumerate("rgb"))
    return compiled(source)
