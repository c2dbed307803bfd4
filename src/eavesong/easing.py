"""How a change takes its time: the easing functions of CSS Easing Level 1 (W3C), on whole arrays.

An easing turns progress in time, 0 at the start and 1 at the end, into progress of the change. Cubic Bézier
curves may overshoot; steps jump.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from eavesong.errors import MisfitError, advise

Array = NDArray[np.float64]

_NEAR = 1e-9  # A control point this near an end gives the tangent no direction that numbers can hold.
JUMPS = ("jump-start", "jump-end", "jump-none", "jump-both")


class Easing:
    """An easing function: frozen, equal by value, called with progress of any shape."""

    def __call__(self, progress: ArrayLike) -> Array:
        """Eased progress, float64 of the same shape; ``progress`` 0..1, beyond that as CSS Easing 1 extends it."""
        raise NotImplementedError


@dataclass(frozen=True)
class CubicBezier(Easing):
    """The curve from (0, 0) to (1, 1) with control points (x1, y1), (x2, y2); x1 and x2 within 0..1.

    Source: CSS Easing 1, section 2.2 (``cubic-bezier()``).
    """

    x1: float
    y1: float
    x2: float
    y2: float

    def __call__(self, progress: ArrayLike) -> Array:
        """Eased progress, exact to 1e-9, any shape; outside 0..1 along the straight tangent at the nearer end."""
        x = np.asarray(progress, np.float64)
        if (self.x1, self.x2) == (self.y1, self.y2):
            return x.copy()
        inside = _bezier(self.y1, self.y2, self._parameter(np.clip(x, 0.0, 1.0)))
        before, after = self._slopes()
        return np.where(x <= 0, before * x, np.where(x >= 1, 1 + after * (x - 1), inside))

    def _parameter(self, x: Array) -> Array:
        """The curve parameter at each x, by bisection: x grows with it, but may stand still for a moment."""
        low, high = np.zeros_like(x), np.ones_like(x)
        for _ in range(54):
            middle = (low + high) / 2
            short = _bezier(self.x1, self.x2, middle) < x
            low, high = np.where(short, middle, low), np.where(short, high, middle)
        return (low + high) / 2

    def _slopes(self) -> tuple[float, float]:
        """The slopes of the tangents at the start and the end, 0 where the standard lets the ends stand still."""
        starts = [y / x for x, y in ((self.x1, self.y1), (self.x2, self.y2)) if x > _NEAR]
        ends = [(1 - y) / (1 - x) for x, y in ((self.x2, self.y2), (self.x1, self.y1)) if x < 1 - _NEAR]
        return (starts or [0.0])[0], (ends or [0.0])[0]


def _bezier(first: float, second: float, at: Array) -> Array:
    """A coordinate of the curve 0, first, second, 1 at parameter ``at``."""
    rest = 1 - at
    return 3 * rest * rest * at * first + 3 * rest * at * at * second + at**3


@dataclass(frozen=True)
class Steps(Easing):
    """A staircase of ``count`` equal steps; ``jump`` says at which ends it jumps too.

    Source: CSS Easing 1, section 2.3 (``steps()``), without the "before flag", which only a paused film needs.
    """

    count: int
    jump: str = "jump-end"

    def __call__(self, progress: ArrayLike) -> Array:
        """Eased progress, any shape; outside 0..1 the staircase goes on."""
        x = np.asarray(progress, np.float64)
        step = np.floor(x * self.count) + (self.jump in ("jump-start", "jump-both"))
        jumps = self.count + {"jump-none": -1, "jump-both": 1}.get(self.jump, 0)
        step = np.where((x <= 1) & (step > jumps), jumps, step)
        return step / jumps


LINEAR = CubicBezier(0.0, 0.0, 1.0, 1.0)
NAMED: dict[str, Easing] = {
    "linear": LINEAR,
    "ease": CubicBezier(0.25, 0.1, 0.25, 1.0),
    "ease-in": CubicBezier(0.42, 0.0, 1.0, 1.0),
    "ease-out": CubicBezier(0.0, 0.0, 0.58, 1.0),
    "ease-in-out": CubicBezier(0.42, 0.0, 0.58, 1.0),
    "step-start": Steps(1, "jump-start"),
    "step-end": Steps(1, "jump-end"),
}
"""The easings with a name. Source: CSS Easing 1, sections 2.1 to 2.3."""

_CALL = re.compile(r"([a-z-]+)\(\s*(.*?)\s*\)", re.ASCII)
_NUMBER = re.compile(r"[+-]?(?:\d{1,6}|\d{0,6}\.\d{1,20})(?:e[+-]?\d)?", re.ASCII)
_COUNT = re.compile(r"\+?\d{1,4}", re.ASCII)


def parse_easing(text: str) -> Easing:
    """The easing written as CSS Easing 1 writes it; letters of either case.

    ``linear``, ``ease``, ``ease-in``, ``ease-out``, ``ease-in-out``, ``step-start``, ``step-end``,
    ``cubic-bezier(x1, y1, x2, y2)`` and ``steps(count, jump)``, with jump one of ``jump-start``, ``jump-end`` (the
    same as none), ``jump-none``, ``jump-both``, ``start`` and ``end``.
    Raises MisfitError.
    """
    plain = text.strip().lower()
    if plain in NAMED:
        return NAMED[plain]
    call = _CALL.fullmatch(plain) if len(plain) <= 120 else None
    if call and call[1] in ("cubic-bezier", "steps"):
        parts = [part.strip() for part in call[2].split(",")]
        return _parse_bezier(parts) if call[1] == "cubic-bezier" else _parse_steps(parts)
    names = [*NAMED, "cubic-bezier", "steps"]
    word = plain.partition("(")[0]
    raise MisfitError(f"no easing is called '{word:.40}'", advise(word[:40], names, "easing"))


def _parse_bezier(parts: list[str]) -> CubicBezier:
    if len(parts) != 4 or not all(_NUMBER.fullmatch(part) for part in parts):
        raise MisfitError("cubic-bezier() does not hold four numbers", "Write cubic-bezier(0.42, 0, 0.58, 1).")
    x1, y1, x2, y2 = (float(part) for part in parts)
    if not (0 <= x1 <= 1 and 0 <= x2 <= 1):
        raise MisfitError(
            "the first and third number of cubic-bezier() lie outside 0 to 1", "Write cubic-bezier(0.42, 0, 0.58, 1)."
        )
    return CubicBezier(x1, y1, x2, y2)


def _parse_steps(parts: list[str]) -> Steps:
    jump = parts[1] if len(parts) == 2 else "jump-end"
    jump = {"start": "jump-start", "end": "jump-end"}.get(jump, jump)
    if len(parts) > 2 or not _COUNT.fullmatch(parts[0]):
        raise MisfitError(
            "steps() does not hold a whole number of steps, up to 9999", "Write steps(4) or steps(4, start)."
        )
    if jump not in JUMPS:
        raise MisfitError(f"steps() knows no '{jump:.40}'", advise(jump[:40], JUMPS, "jump"))
    least = 2 if jump == "jump-none" else 1
    if int(parts[0]) < least:
        raise MisfitError(f"steps() with {jump} needs at least {least}", f"Write steps({least}, {jump}).")
    return Steps(int(parts[0]), jump)
