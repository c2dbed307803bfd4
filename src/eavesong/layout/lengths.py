"""Lengths as the people of a house write them: feet and inches where its file is in feet or inches, else metres."""

from __future__ import annotations

from eavesong.words import METRES

FEET = ("ft", "in")
"""Units of files whose lengths are told in feet and inches."""


def length_text(metres: float, units: str = "m", digits: int = 1) -> str:
    """A length in words: ``7.4 m``, and for a file in feet or inches ``24 ft 3 in``, below a foot ``3 in``.

    digits: decimal places of metres; inches are whole ones, below two of them with a decimal place.
    """
    if units not in FEET:
        return f"{metres:,.{digits}f} m"
    inches = metres / METRES["in"]
    if abs(inches) < 0.05:
        return "0 ft"
    if abs(inches) < 2:
        return f"{inches:.1f} in"
    feet, rest = divmod(round(abs(inches)), 12)
    sign = "-" if inches < 0 else ""
    if not feet:
        return f"{sign}{rest} in"
    return f"{sign}{feet:,} ft" + (f" {rest} in" if rest else "")


def apart_text(metres: float, units: str = "m") -> str:
    """A short distance, as from pixel to pixel, to three digits: ``0.05 m``; in a file in feet or inches ``2.4 in``
    below a foot, then as `length_text`."""
    inches = metres / METRES["in"]
    if units in FEET:
        return f"{inches:.3g} in" if inches < 12 else length_text(metres, units)
    text = f"{metres:.3g}"
    return f"{text} m" if "." in text else f"{metres:.1f} m"
