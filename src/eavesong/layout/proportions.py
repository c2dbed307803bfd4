"""Props of sizes that such things hardly have: a tree as wide as a house, a door of two feet in place of metres."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from eavesong.layout.house import Layout
from eavesong.layout.lengths import length_text
from eavesong.layout.size import COMMON, NAMES, entries_in, largest_in, units_in
from eavesong.words import METRES

Span = tuple[float, float]


@dataclass(frozen=True)
class Usual:
    """What things of a kind measure (common practice): metres, from the smallest to the largest."""

    thing: str
    across: Span
    """Width, or depth where that is more."""
    high: Span
    mostly: Span
    """Heights of nearly all of them: several that are outside, and would be inside in another unit, tell the unit."""
    stoutest: float = 0.0
    """Times its height that it is wide at most; 0 where that tells nothing."""


BY_WORD = {
    "door": Usual("a door", (0.5, 6.0), (1.5, 4.5), (1.9, 3.2)),
    "garage": Usual("a garage door", (1.5, 8.0), (1.5, 5.0), (1.9, 3.5)),
    "window": Usual("a window", (0.3, 6.0), (0.3, 5.0), (0.5, 3.0)),
}
"""By a tag, or a word of its name, for rectangles."""
BUSH = Usual("a bush", (0.2, 5.0), (0.15, 5.0), (0.3, 2.5))
"""By a tag, or a word of its name, for balls."""
BY_SHAPE = {
    "arch": Usual("an arch", (0.4, 9.0), (0.25, 6.0), (0.5, 3.5)),
    "cane": Usual("a cane", (0.0, 2.0), (0.3, 3.5), (0.5, 2.5)),
    "cone": Usual("a tree", (0.15, 9.0), (0.4, 15.0), (0.9, 12.0), 1.7),
    "helix": Usual("a post or trunk", (0.03, 2.5), (0.4, 13.0), (0.9, 12.0)),
    "rectangle": Usual("a frame", (0.15, 10.0), (0.15, 8.0), (0.3, 4.0)),
    "ring": Usual("a ring", (0.1, 6.0), (0.1, 6.0), (0.3, 3.0)),
    "sphere": Usual("a ball", (0.05, 4.0), (0.05, 4.0), (0.1, 2.0)),
    "spokes": Usual("a star of spokes", (0.1, 6.0), (0.1, 6.0), (0.3, 3.0)),
    "star": Usual("a star", (0.1, 6.0), (0.1, 6.0), (0.3, 3.0)),
}
"""Else by its shape; of lines, polylines, points, grids and icicles nothing is known."""
ACROSS = {"width": 1.0, "base": 1.0, "outer": 2.0, "diameter": 1.0}
"""Keys of sizes from side to side, and how often each goes into that; what has no height is as high."""


@dataclass(frozen=True)
class _Sized:
    """One entry, and what it measures."""

    name: str
    written: str
    usual: Usual
    across: float
    high: float

    def fits(self, times: float = 1.0) -> bool:
        """Whether it is as large as such things are, were it so many ``times`` as large."""
        across, high = times * self.across, times * self.high
        sized = all(low <= size <= most for size, (low, most) in ((across, self.usual.across), (high, self.usual.high)))
        return sized and (not self.usual.stoutest or across <= self.usual.stoutest * high)

    def is_common(self, times: float = 1.0) -> bool:
        """Likewise, whether it is as high as nearly all such things."""
        low, most = self.usual.mostly
        return low <= times * self.high <= most


def odd_sizes(layout: Layout) -> Iterator[tuple[str, str, str]]:
    """Entries that are not as large as such things are: which one, empty for all of them; what is odd, and advice.

    Where the lengths of several would be those of nearly all such things in another unit, that is said once.
    """
    units = units_in(layout.text)
    sized = list(_sized(layout, units))
    if likely := _meant(sized, units):
        few = ", ".join(f"'{each.name}' {length_text(each.high, units, 2)}" for each in sized if not each.is_common())
        found = f"props are of heights that such things hardly have: {few}"
        yield "", found, f'Are the lengths in {NAMES[likely]}? Then write units = "{likely}" above the tables.'
        return
    for each in sized:
        if not each.fits():
            found = f"'{each.name}' is {length_text(each.across, units)} wide and {length_text(each.high, units)} high"
            written = f"Check {each.written}" if each.written else "Check its sizes"
            yield each.name, f"{found}; {_why(each, units)}", f"{written}{_slip(each, units)}."


def _sized(layout: Layout, units: str) -> Iterator[_Sized]:
    """The entries of which something is known, as they are written."""
    entries = entries_in(layout.text)
    for entry in entries:
        if not isinstance(entry, dict) or _turned(entry):
            continue
        name, tags = str(entry.get("name", "")), entry.get("tags", ())
        words = {*name.lower().split(), *([tags] if isinstance(tags, str) else tags)}
        named = [BY_WORD[word] for word in BY_WORD if word in words and entry.get("shape") == "rectangle"]
        bush = BUSH if entry.get("shape") == "sphere" and words & {"bush", "bushes"} else None
        usual = next(iter(named), None) or bush or BY_SHAPE.get(str(entry.get("shape")))
        across = next((entry[key] * times for key, times in ACROSS.items() if _is_number(entry.get(key))), 0.0)
        high = entry["height"] if _is_number(entry.get("height")) else across
        if usual is not None:
            across, high = across * METRES[units], high * METRES[units]
            yield _Sized(name, largest_in(name, entries), usual, across, high)


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _turned(entry: dict[str, Any]) -> bool:
    """Whether it is turned otherwise than round an upright axis, so that width and height change places."""
    rotate = entry.get("rotate")
    return isinstance(rotate, dict) and bool({"x", "z"} & rotate.keys())


def _meant(sized: list[_Sized], units: str) -> str:
    """The unit in which several props are as high as nearly all such things that are not so in their own, and none the
    other way round; empty where there is none."""
    rare = [each for each in sized if not each.is_common()]
    for unit in COMMON:
        times = METRES[unit] / METRES[units]
        gained = [each for each in rare if each.is_common(times)]
        if unit != units and len(gained) > 1 and all(each.is_common(times) for each in sized if each not in rare):
            return unit
    return ""


def _why(each: _Sized, units: str) -> str:
    usual = each.usual
    for word, size, (low, most) in (("wide", each.across, usual.across), ("high", each.high, usual.high)):
        if not low <= size <= most:
            end = f"over {length_text(most, units)}" if size > most else f"under {length_text(low, units)}"
            return f"{usual.thing} is hardly {end} {word}"
    return f"{usual.thing} is hardly wider than high"


def _slip(each: _Sized, units: str) -> str:
    """What may have been meant: another unit, or a decimal point."""
    fitting = [unit for unit in COMMON if unit != units and each.fits(METRES[unit] / METRES[units])]
    if not fitting:
        return ""
    return f": is it in {' or '.join(NAMES[unit] for unit in fitting[:2])}? The file is in {NAMES[units]}"
