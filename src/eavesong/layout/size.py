"""Whether a house is as large as houses are: lengths in another unit than the file says, and the likely one."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from eavesong.layout.lengths import length_text
from eavesong.layout.wire import Floats
from eavesong.words import METRES

if TYPE_CHECKING:
    from eavesong.layout.house import Layout

WIDEST, HIGHEST = 150.0, 60.0
"""Metres: what is wider, deeper or higher is refused where no [frame] says that it is meant."""
WIDE, HIGH = (4.0, 60.0), (1.8, 16.0)
"""Metres between which homes lie, eaves to chimney and hedge to hedge (common practice)."""
SMALL = 2.5
"""Metres: what is lower, and narrower than a home, may be one in another unit."""
FEW_FEET = (5.5, 2.75)
"""Likewise of a file in feet or inches, 18 ft and 9 ft: metres written as feet make a house of that size."""
COMMON = ("ft", "m", "cm", "in", "mm")
"""Units, those first that people measure houses in."""
NEAREST, FARTHEST = 0.002, 1.0
"""Metres between two pixels of a wire: the densest strips have some 2.5 mm (from memory), the widest strings half a
metre (common practice)."""
BEYOND = 1.5
"""Times what all others reach, beyond which one prop is likely to be the one that is wrong."""
ALIKE = math.log(3)
"""Logarithm of how much farther off a second unit may be than the likeliest, to be told as well."""
COUNTS = frozenset(
    {"pixels", "strings", "columns", "rows", "arms", "tips", "rings", "drops", "nested", "turns", "rotate"}
)
"""Keys of props whose numbers are no lengths."""
NAMES = {"ft": "feet", "m": "metres", "cm": "centimetres", "in": "inches", "mm": "millimetres"}


@lru_cache(maxsize=2)
def units_in(text: str) -> str:
    """The units that a layout's text names; metres where it names none, or was not read from a file."""
    from eavesong.errors import LayoutError
    from eavesong.files import parse_toml

    try:
        named = parse_toml(text, "layout", LayoutError).get("units", "m")
    except LayoutError:
        return "m"
    return named if named in METRES else "m"


def misfit_of_pitch(pitch: float, units: str) -> tuple[str, str] | None:
    """What is wrong with pixels that are ``pitch``, in ``units``, apart, and what to write; None if nothing."""
    if NEAREST <= (metres := pitch * METRES[units]) <= FARTHEST:
        return None
    found = f"its pixels would be {f'{metres:,.4g} m' if metres >= 1 else f'{1000 * metres:.3g} mm'} apart"
    meant = [(unit, pitch * METRES[unit]) for unit in ("cm", "in", "mm", "m", "ft") if unit != units]
    advice = " or ".join(
        f"{length / METRES[units]:.3g} ({pitch:g} {unit})" for unit, length in meant if 0.005 <= length <= 0.5
    )
    asked = f"Did you mean pitch = {advice}? " if advice else ""
    return found, f"{asked}It is in {NAMES[units]}; where it is right, say how many there are instead: pixels = …"


def likely_units(size: Sequence[float], units: str) -> tuple[str, ...]:
    """The units in which a house of ``size`` (width, height, depth) metres would be of a usual size.

    units: those of its file, which are not among them.
    """
    return tuple(unit for unit in COMMON if unit != units and _usual([n / METRES[units] * METRES[unit] for n in size]))


def _usual(size: Sequence[float]) -> bool:
    across = max(size[0], size[2])
    flat = size[1] < 1e-6
    return WIDE[0] <= across <= WIDE[1] and (flat or HIGH[0] <= size[1] <= HIGH[1])


@dataclass(frozen=True)
class Reach:
    """How far the pixels of one entry reach, all members of its row together."""

    name: str
    written: str
    """The largest length that stands in the file: ``height = 400``; empty where that is not known."""
    low: tuple[float, ...]
    """(x, y, z) metres, likewise ``high``."""
    high: tuple[float, ...]
    numbers: tuple[float, ...] = ()
    """Its lengths as they stand in the file, in its units."""

    @property
    def extent(self) -> float:
        """Metres along the axis along which it reaches farthest."""
        return max(high - low for low, high in zip(self.low, self.high, strict=True))


def reaches_of(names: Sequence[str], places: Sequence[Floats], entries: Sequence[Any] = ()) -> list[Reach]:
    """How far entries reach, by the ``names`` of their entries and the ``places`` (n, 3) metres of each prop.

    entries: the tables that stand in the file.
    """
    rows: dict[str, list[Floats]] = {}
    for name, points in zip(names, places, strict=True):
        rows.setdefault(name, []).append(points)
    return [
        Reach(name, largest_in(name, entries), tuple(min(p[:, k].min() for p in row) for k in range(3)),
              tuple(max(p[:, k].max() for p in row) for k in range(3)), _lengths_in(name, entries))
        for name, row in rows.items()
    ]  # fmt: skip


def largest_in(name: str, entries: Sequence[Any]) -> str:
    """The largest length in the entry that is called so, as it is written."""
    table = next((entry for entry in entries if isinstance(entry, dict) and entry.get("name") == name), {})
    found = [(abs(number), f"{key} = {value}".replace("'", "")) for key, value in table.items() if key not in COUNTS
             for number in _numbers(value)]  # fmt: skip
    return max(found)[1][:80] if found else ""


def _lengths_in(name: str, entries: Sequence[Any]) -> tuple[float, ...]:
    """Every length in the entry that is called so."""
    table = next((entry for entry in entries if isinstance(entry, dict) and entry.get("name") == name), {})
    return tuple(number for key, value in table.items() if key not in COUNTS for number in _numbers(value))


def _numbers(value: Any) -> Iterator[float]:
    """All numbers in a value of a file."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        yield float(value)
    elif isinstance(value, list | tuple | dict):
        for part in value.values() if isinstance(value, dict) else value:
            yield from _numbers(part)


def misfit_of_size(size: Sequence[float], units: str, reaches: Sequence[Reach] = ()) -> tuple[str, str] | None:
    """What is wrong with a house of ``size`` metres that no [frame] bears out, and what to write; None if nothing.

    reaches: of its props, so that the one that makes it so large is named.
    """
    if max(size[0], size[2]) <= WIDEST and size[1] <= HIGHEST:
        return None
    found, advice = _found(size, units, reaches)
    return found, f"{advice} If it is meant, give it a [frame].".strip()


def doubt_of_size(size: Sequence[float], units: str, reaches: Sequence[Reach] = ()) -> tuple[str, str] | None:
    """What is odd with a house of ``size`` metres that is much larger or smaller than homes are, and advice; else None.

    reaches: as for `misfit_of_size`.
    """
    across = max(size[0], size[2])
    large = across > WIDE[1] or size[1] > HIGH[1]
    wide, high = FEW_FEET if units in ("ft", "in") else (WIDE[0], SMALL)
    small = across < wide and 0 < size[1] < high and bool(likely_units(size, units))
    return _found(size, units, reaches if large else ()) if large or small else None


def doubt_of_layout(layout: Layout) -> tuple[str, str] | None:
    """As `doubt_of_size`, of a whole layout."""
    pixels, size = layout.pixels, layout.frame.size.tolist()
    places = np.stack([pixels.X, pixels.Y, pixels.Z], axis=1) + layout.frame.origin
    each = [places[prop.start : prop.stop] for prop in layout.props]
    entries = entries_in(layout.text)
    reaches = reaches_of([prop.member_of for prop in layout.props], each, entries)
    return doubt_of_size(size, units_in(layout.text), reaches)


def entries_in(text: str) -> list[Any]:
    """The entries of the props in the text of a layout, as they are written; none where it cannot be read."""
    from eavesong.errors import LayoutError
    from eavesong.files import parse_toml

    try:
        found = parse_toml(text, "layout", LayoutError).get("prop", [])
    except LayoutError:
        return []
    return found if isinstance(found, list) else []


def _found(size: Sequence[float], units: str, reaches: Sequence[Reach]) -> tuple[str, str]:
    """What is told of a house, or of the one prop without which it would be of a usual size, and what to write."""
    lone = _alone_too_large(reaches)
    if lone is None:
        return _told(size, units), _advice(size, units)
    axis = max(range(3), key=lambda k: lone.high[k] - lone.low[k])
    low, high = lone.low[axis], lone.high[axis]
    written = f" ({lone.written})" if lone.written else ""
    reach = f"which reaches from {'xyz'[axis]} = {length_text(low, units, 2)} to {length_text(high, units, 2)}"
    found = f"{_told(size, units)}, all for '{lone.name}'{written}, {reach}"
    others = [reach for reach in reaches if reach is not lone]
    if slipped := _slipped_point(lone, others, units):
        return found, slipped
    tall = max(reach.high[axis] for reach in others) - min(reach.low[axis] for reach in others)
    likely = _likely_of((high - low) / METRES[units], tall, max(reach.extent for reach in others), units)
    asked = f"Are its lengths in {' or '.join(NAMES[unit] for unit in likely)}? " if likely else ""
    return found, f"{asked}The file is in {NAMES[units]}: write its lengths and its place so."


def _slipped_point(lone: Reach, others: Sequence[Reach], units: str) -> str:
    """What to write where a single number of an entry is ten times too large; empty where that is not likely."""
    reach = max(max(abs(end) for end in (*other.low, *other.high)) for other in others) / METRES[units]
    large = [number for number in lone.numbers if abs(number) > BEYOND * reach]
    fitting = [number for number in lone.numbers if 0.3 / METRES[units] <= abs(number) <= BEYOND * reach]
    if len(large) != 1 or not fitting or abs(large[0]) / 10 > reach:
        return ""
    return f"Is a decimal point missing, {large[0] / 10:g} in place of {large[0]:g}?"


def _likely_of(length: float, beside: float, most: float, units: str) -> list[str]:
    """The units in which a ``length`` along one axis comes nearest to the ``beside`` metres that all others reach
    there; a second one where it is as good. most: metres of the longest of them."""
    target = max(beside, 1.0)
    off = {unit: abs(math.log(length * METRES[unit] / target)) for unit in COMMON
           if unit != units and 0.3 <= length * METRES[unit] <= max(BEYOND * target, most)}  # fmt: skip
    ranked = sorted(off, key=lambda unit: off[unit])
    return [unit for unit in COMMON if unit in ranked[:2] and off[unit] <= off[ranked[0]] + ALIKE]


def _alone_too_large(reaches: Sequence[Reach]) -> Reach | None:
    """The one entry without which a house would be of a usual size, larger than all others; None without one."""
    for lone in reaches:
        others = [reach for reach in reaches if reach is not lone]
        if not others or lone.extent < BEYOND * max(reach.extent for reach in others):
            continue
        wide, high, deep = (max(r.high[k] for r in others) - min(r.low[k] for r in others) for k in range(3))
        if WIDE[0] <= max(wide, deep) <= WIDE[1] and high <= HIGH[1]:
            return lone
    return None


def _told(size: Sequence[float], units: str) -> str:
    wide, high, deep = (length_text(length, units) for length in size)
    return f"the house is {wide} wide, {high} high and {deep} deep"


def _advice(size: Sequence[float], units: str) -> str:
    likely = likely_units(size, units)
    if not likely:
        return "Check 'units' and the places of the props."
    asked = " or ".join(NAMES[unit] for unit in likely)
    lines = " or ".join(f'units = "{unit}"' for unit in likely)
    return f"Are the lengths in {asked}? Then write {lines} above the tables."
