"""Safe by construction: how often a place may change, and how far an effect must be slowed down for it.

Three flashes in a second are the most that eyes bear (WCAG 2.2, SC 2.3.1). A draft keeps well below: what leads comes
and goes less than twice a second at any place, what supports it less than once, and accents are rare.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from eavesong.draft.moods import luminance

LEAD, SUPPORT = 1.7, 0.6
"""Times a second that a place may light up and fade for what leads, and for what supports it."""
STROKES = 2
"""Strokes of one drum in any second that may ring out shortly."""
TURNS = 3
"""The same where each side of the house shows every other one of them."""
QUICK = 0.05
"""Luminance, against full white, below which a light may change as it likes: a tenth is a flash (WCAG 2.2)."""


def whole_beats(tempo: float, times: float, metre: int, limit: float = LEAD) -> float:
    """The fewest beats of 1, 2 or whole bars in which a place may light up ``times`` and stay within ``limit``."""
    for beats in (1.0, 2.0, float(metre), 2.0 * metre, 4.0 * metre, 8.0 * metre):
        if times * tempo / 60 / beats <= limit:
            return beats
    return 16.0 * metre


def busiest(moments: Iterable[float]) -> int:
    """The most of some ``moments`` (seconds) that fall within any second."""
    times = np.sort(np.fromiter(moments, np.float64))
    if not len(times):
        return 0
    ends = np.searchsorted(times, times + 1.0, side="left")
    return int((ends - np.arange(len(times))).max())


def within(moments: Iterable[float], spans: Iterable[tuple[float, float]]) -> list[float]:
    """Those of the moments that lie in one of the spans, all in seconds."""
    kept = list(spans)
    return [at for at in moments if any(start <= at < end for start, end in kept)]


def faint(*colours: str) -> float:
    """The share of light, 0 to 1, that may come and go in any of the colours however quickly, and never be a flash."""
    return QUICK / max(QUICK, *(luminance(colour) for colour in colours))
