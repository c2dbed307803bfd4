"""Ramps: a parameter that runs from one value to another while a span of its cue goes by."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from eavesong.colours import linear_to_oklab, oklab_to_linear
from eavesong.easing import Easing

Floats = NDArray[np.float64]
Colour = tuple[float, float, float]


@dataclass(frozen=True)
class Ramp:
    """From ``start`` to ``end``, two numbers or two colours in linear light; equal by value."""

    start: float | Colour
    end: float | Colour
    easing: Easing

    def at(self, progress: ArrayLike) -> Floats:
        """The value at ``progress`` (f,), 0..1 across the span: (f,) for numbers, (f, 3) linear light for colours.

        Colours are mixed in OKLab, as CSS Color 4, section 12 does. What an easing overshoots is held: a value never
        leaves what lies between the two.
        """
        eased = np.clip(self.easing(np.asarray(progress, np.float64)), 0.0, 1.0)
        if isinstance(self.start, tuple):
            start, end = linear_to_oklab(self.start), linear_to_oklab(self.end)
            return np.clip(oklab_to_linear(start + eased[..., None] * (end - start)), 0.0, 1.0)
        assert not isinstance(self.end, tuple), "both ends are of one kind: shows are checked when they are read"
        # Two products: both ends are met to the last bit, and the difference of the largest numbers is never taken.
        between: Floats = self.start * (1.0 - eased) + self.end * eased
        return np.clip(between, min(self.start, self.end), max(self.start, self.end))
