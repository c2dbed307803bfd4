"""The law of light: how hard a pixel is driven for the light that is asked of it, and what light it then gives.

    duty = brightness * light ** gamma

``light`` is linear, 0..1, as effects and cues mean it; ``duty`` the share of full drive, 0..1, whose 255 steps are the
bytes of a frame. ``brightness``, of an output, is the share of full drive that its pixels get at most: half of it
halves their current. ``gamma`` is what the pixels need: 1 where light is proportional to duty, as with pulse-width
modulation; above 1 for pixels that are too bright at the low end, whose low steps it lowers.

A pixel driven at ``duty`` gives ``duty ** (1 / gamma)`` of its own full light, the law's inverse. Everything that
drives pixels, or tells from bytes what is seen, comes here.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

LAW = "byte = 255 * brightness * light ** gamma, to the nearest; light linear, 0 to 1"
"""As it stands in every frames file."""

LEVELS = 4096
"""Steps of light that a drive curve tells apart: 16 for every step of an 8-bit duty."""


def duty_of(light: ArrayLike, brightness: ArrayLike = 1.0, gamma: ArrayLike = 1.0) -> NDArray[np.float64]:
    """The share of full drive, 0..1, for linear ``light``, held within 0 and 1; any shapes that go together."""
    held = np.clip(np.asarray(light, np.float64), 0.0, 1.0)
    return np.asarray(brightness, np.float64) * held ** np.asarray(gamma, np.float64)


def bytes_of(light: ArrayLike, brightness: ArrayLike = 1.0, gamma: ArrayLike = 1.0) -> NDArray[np.uint8]:
    """The bytes, uint8, that drive pixels for linear ``light``, as ``duty_of`` takes it."""
    return np.floor(duty_of(light, 255.0 * np.asarray(brightness, np.float64), gamma) + 0.5).astype(np.uint8)


def light_of(duty: ArrayLike, gamma: ArrayLike = 1.0) -> NDArray[np.float64]:
    """The light that pixels give at ``duty`` 0..1, as a share of their own full light."""
    return np.asarray(duty, np.float64) ** (1.0 / np.asarray(gamma, np.float64))


def light_table(gamma: float) -> NDArray[np.float64]:
    """(256,): the light that a pixel gives for each byte."""
    return light_of(np.arange(256) / 255, gamma)


def drive_curve(brightness: float, gamma: float) -> NDArray[np.uint8]:
    """The byte for each of LEVELS steps of linear light, uint8 (LEVELS,)."""
    return bytes_of(np.arange(LEVELS) / (LEVELS - 1), brightness, gamma)


def light_tables(drives: list[tuple[float, float]]) -> NDArray[Any]:
    """The light of each byte for each (brightness, gamma), float64 (drives, 256); 1 is the brightest pixel's at full.

    A house that is driven at part brightness is measured against its own brightest pixel, as eyes at night are.
    """
    brightest = max((float(light_of(brightness, gamma)) for brightness, gamma in drives), default=1.0) or 1.0
    return np.stack([np.minimum(light_table(gamma) / brightest, 1.0) for _, gamma in drives])
