"""Whether a house is as large as houses are: lengths in another unit than the file says, and the likely one."""

from __future__ import annotations

from collections.abc import Sequence

from eavesong.layout.fields import METRES

WIDEST, HIGHEST = 150.0, 60.0
"""Metres: what is wider, deeper or higher is refused where no [frame] says that it is meant."""
WIDE, HIGH = (4.0, 60.0), (1.8, 16.0)
"""Metres between which homes lie, eaves to chimney and hedge to hedge (common practice)."""
SMALL = 2.5
"""Metres: what is lower, and narrower than a home, may be one in another unit."""
COMMON = ("ft", "m", "cm", "in", "mm")
"""Units, those first that people measure houses in."""
NAMES = {"ft": "feet", "m": "metres", "cm": "centimetres", "in": "inches", "mm": "millimetres"}


def units_in(text: str) -> str:
    """The units that a layout's text names; metres where it names none, or was not read from a file."""
    from eavesong.errors import LayoutError
    from eavesong.files import parse_toml

    try:
        named = parse_toml(text, "layout", LayoutError).get("units", "m")
    except LayoutError:
        return "m"
    return named if named in METRES else "m"


def likely_units(size: Sequence[float], units: str) -> tuple[str, ...]:
    """The units in which a house of ``size`` (width, height, depth) metres would be of a usual size.

    units: those of its file, which are not among them.
    """
    return tuple(unit for unit in COMMON if unit != units and _usual([n / METRES[units] * METRES[unit] for n in size]))


def _usual(size: Sequence[float]) -> bool:
    across = max(size[0], size[2])
    flat = size[1] < 1e-6
    return WIDE[0] <= across <= WIDE[1] and (flat or HIGH[0] <= size[1] <= HIGH[1])


def misfit_of_size(size: Sequence[float], units: str) -> tuple[str, str] | None:
    """What is wrong with a house of ``size`` metres that no [frame] bears out, and what to write; None if nothing."""
    if max(size[0], size[2]) <= WIDEST and size[1] <= HIGHEST:
        return None
    return _told(size), f"{_advice(size, units)}If it is meant, give it a [frame]."


def doubt_of_size(size: Sequence[float], units: str) -> str:
    """A sentence or two where a house of ``size`` metres is much larger or smaller than homes are; else empty."""
    across = max(size[0], size[2])
    large = across > WIDE[1] or size[1] > HIGH[1]
    small = across < WIDE[0] and 0 < size[1] < SMALL and bool(likely_units(size, units))
    return f"{_told(size)[:1].upper()}{_told(size)[1:]}. {_advice(size, units)}".strip() if large or small else ""


def _told(size: Sequence[float]) -> str:
    return f"the house is {size[0]:,.1f} m wide, {size[1]:,.1f} m high and {size[2]:,.1f} m deep"


def _advice(size: Sequence[float], units: str) -> str:
    likely = likely_units(size, units)
    if not likely:
        return "Check 'units' and the places of the props. "
    asked = " or ".join(NAMES[unit] for unit in likely)
    lines = " or ".join(f'units = "{unit}"' for unit in likely)
    return f"Are the lengths in {asked}? Then write {lines} above the tables. "
