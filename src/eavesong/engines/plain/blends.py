"""Blending in float64: the formulas of W3C Compositing and Blending Level 1, sections 5, 9.1 and 9.2, and Level 2's
``plus-lighter``, over an opaque backdrop: ``(1 - alpha) * below + alpha * B(below, source)``."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def blend(mode: str, below: Floats, source: Floats, alpha: Floats) -> Floats:
    """Linear light (…, 3) of ``source`` over ``below``, both (…, 3); alpha (…, 1), 0..1; KeyError for no mode."""
    if mode == "plus-lighter":
        return np.minimum(1.0, below + alpha * source)
    return below + alpha * (MODES[mode](below, source) - below)


def _screen(b: Floats, s: Floats) -> Floats:
    return b + s - b * s


def _hard_light(b: Floats, s: Floats) -> Floats:
    return np.where(s <= 0.5, b * 2 * s, _screen(b, 2 * s - 1))


def _soft_light(b: Floats, s: Floats) -> Floats:
    deep = np.where(b <= 0.25, ((16 * b - 12) * b + 4) * b, np.sqrt(b))
    return np.where(s <= 0.5, b - (1 - 2 * s) * b * (1 - b), b + (2 * s - 1) * (deep - b))


def _dodge(b: Floats, s: Floats) -> Floats:
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(b == 0, 0.0, np.where(s >= 1, 1.0, np.minimum(1.0, b / (1 - s))))


def _burn(b: Floats, s: Floats) -> Floats:
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(b >= 1, 1.0, np.where(s <= 0, 0.0, 1 - np.minimum(1.0, (1 - b) / s)))


def _lum(c: Floats) -> Floats:
    lum: Floats = (c @ np.array([0.3, 0.59, 0.11]))[..., None]
    return lum


def _sat(c: Floats) -> Floats:
    sat: Floats = c.max(axis=-1, keepdims=True) - c.min(axis=-1, keepdims=True)
    return sat


def _set_lum(c: Floats, light: Floats) -> Floats:
    c = c + light - _lum(c)
    low, high = c.min(axis=-1, keepdims=True), c.max(axis=-1, keepdims=True)
    with np.errstate(divide="ignore", invalid="ignore"):
        c = np.where(low < 0, light + (c - light) * light / (light - low), c)
        return np.where(high > 1, light + (c - light) * (1 - light) / (high - light), c)


def _set_sat(c: Floats, spread: Floats) -> Floats:
    low, range_ = c.min(axis=-1, keepdims=True), _sat(c)
    return np.where(range_ > 0, (c - low) * spread / np.where(range_ > 0, range_, 1), 0.0)


MODES: dict[str, Callable[[Floats, Floats], Floats]] = {
    "source-over": lambda b, s: s,
    "multiply": lambda b, s: b * s,
    "screen": _screen,
    "darken": np.minimum,
    "lighten": np.maximum,
    "overlay": lambda b, s: _hard_light(s, b),
    "hard-light": _hard_light,
    "soft-light": _soft_light,
    "color-dodge": _dodge,
    "color-burn": _burn,
    "difference": lambda b, s: np.abs(b - s),
    "exclusion": lambda b, s: b + s - 2 * b * s,
    "hue": lambda b, s: _set_lum(_set_sat(s, _sat(b)), _lum(b)),
    "saturation": lambda b, s: _set_lum(_set_sat(b, _sat(s)), _lum(b)),
    "color": lambda b, s: _set_lum(s, _lum(b)),
    "luminosity": lambda b, s: _set_lum(b, _lum(s)),
}
"""B(below, source) by the standard's names; until the compiled formulas and these are one table."""
