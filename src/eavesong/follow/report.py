"""The figures in words: one line each, with what to compare it with."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from eavesong.follow.figures import Figures

WIDE, AUDIBLE = 9.0, 6.0
"""Decibels between loud and quiet bars from which light should tell them apart, and from which it can."""


def follow_text(figures: Figures) -> str:
    """The report of `follow`, a line each."""
    rows = [
        ("bars", str(figures.bars), ""),
        ("form", _number(figures.form), "bars that sound alike look alike: -1 to 1, 0 is chance"),
        ("energy", _number(figures.energy), f"louder bars are brighter: -1 to 1{_flat(figures, AUDIBLE)}"),
        ("loud", _number(figures.loud, 1), f"light of the loudest bars to that of the softest{_flat(figures, WIDE)}"),
        ("longest", str(figures.longest), "bars in a row that look the same"),
        ("stale", _number(figures.stale), "share of bars that look like the one before"),
        ("beat", _number(figures.beat, 1), "change on beats to change between them: 1 is chance"),
        ("alignment", _number(figures.alignment), "peaks of change on beats: 0 to 1, some 0.3 is chance"),
        ("accent", _number(figures.accent), "what begins where the light changes most: 0.5 is chance"),
        ("answered", _answered(figures), "hits, stops and arrivals that the light answers within a frame"),
        ("together", _number(figures.together), "change of light with what begins: -1 to 1"),
        ("lit", f"{figures.lit:.2f}", f"share of pixels; {figures.lit_low:.2f} to {figures.lit_high:.2f} in most bars"),
    ]
    lines = [f"{name:<10} {value:>9}  {about}".rstrip() for name, value, about in rows]
    if figures.seldom:
        lines.append(f"hardly lit: {', '.join(figures.seldom)}")
    return "\n".join([*lines, "", "These tell of slips and of dullness, not of beauty: look at it."])


def _number(value: float | None, digits: int = 2) -> str:
    return "–" if value is None else f"{value:.{digits}f}"


def _flat(figures: Figures, decibels: float) -> str:
    """A word of caution where the song is about as loud all through."""
    if figures.span is None or figures.span >= decibels:
        return ""
    return f"; little to tell, the song spans {figures.span:.0f} dB"


def _answered(figures: Figures) -> str:
    if figures.answered is None:
        return "–"
    return f"{round(figures.answered * figures.events)} of {figures.events}"
