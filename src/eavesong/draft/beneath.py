"""What lies beneath all looks and between them: the shape of the house at rest, and strokes that are felt."""

from __future__ import annotations

from collections.abc import Iterator

from eavesong.draft.cast import Cast, Family, called, union
from eavesong.draft.cue import Draft
from eavesong.draft.form import CALM, Form
from eavesong.draft.looks import Staging
from eavesong.draft.moods import yellow
from eavesong.draft.pictures import spans_of
from eavesong.draft.safe import faint
from eavesong.draft.seen import Bars

REST = 0.9
"""Light of what is at rest."""
CALMEST = 0.6
"""The same in calm parts."""
PATCHES = 0.6
"""How dark it is between the soft patches of what is at rest: no hedge is one flat slab."""


def at_rest(form: Form, cast: Cast, looks: dict[str, Staging]) -> Iterator[Draft]:
    """Roof, trees and centre pieces wherever nothing moves on them, in the part's deep colour; in calm parts roof or
    trees are dark instead."""
    calm = frozenset(bar for part in form.parts if part.tier == CALM for bar in range(part.start, part.end))
    free: dict[tuple[str, Bars, float], list[Family]] = {}
    for family in cast.families:
        left: dict[str, set[int]] = {}
        for look in looks.values():
            left.setdefault(look.colours.deep, set()).update(look.at_rest(form).get(family, frozenset()))
        for deep, there in left.items():
            if there and family.name == "centre":
                yield from _screens(family, there, f"{name_of(deep, looks)} ground")
            else:
                for light, bars in ((REST, frozenset(there) - calm), (CALMEST, calm & there)):
                    if bars:
                        free.setdefault((deep, bars, light), []).append(family)
    for (deep, bars, light), families in free.items():
        least = _up(max(0.3, 1 - 0.5 * faint(deep) / REST))  # strokes are felt on top of it
        yield Draft(
            _titled(families, "at rest" if light == REST else "in the dark"),
            "deep and low where they have no other part, to leave room for what leads",
            "stir", union(families), spans_of(bars),
            {"beats": 8 * form.metre, "least": least, "patches": PATCHES}, name_of(deep, looks), opacity=light,
            fade_in=0.0 if light == REST else 2.0,
        )  # fmt: skip


def _screens(family: Family, bars: set[int], palette: str) -> Iterator[Draft]:
    """A star on a deep ground and, every second four bars, diamonds: no picture stands on a screen for long."""
    stars = frozenset(bar for bar in bars if (bar - 1) // 4 % 2 == 0)
    for told, why, effect, there, parameters in (
        ("at rest", "a star on a deep ground wherever they have no other part", "emblem", stars,
         {"bars": 2.0, "back": 0.3}),
        ("at rest, then", "and diamonds, in every second four bars", "lozenges", frozenset(bars - stars),
         {"beats": 8.0, "least": 0.2}),
    ):  # fmt: skip
        if there:
            yield Draft(_titled([family], told), why, effect, family.on, spans_of(there), {**parameters}, palette,
                        opacity=REST)  # fmt: skip


def strokes(form: Form, cast: Cast, looks: dict[str, Staging]) -> Iterator[Draft]:
    """What begins hard is seen on everybody, in the deep colour, but on nobody in yellow."""
    cool: dict[tuple[str, Bars], list[Family]] = {}
    for family in cast.families:
        able: dict[str, set[int]] = {}
        for look in looks.values():
            main, beside = look.colours.main, look.colours.beside
            seen = look.seen(form).get(family, frozenset())
            able.setdefault(look.colours.deep, set()).update(look.bars(form) - seen)
            for other, there in enumerate((seen - look.exchanged, seen & look.exchanged)):
                worn = main if look.palette_of(family, bool(other)) == look.letter else beside
                able[look.colours.deep].update(frozenset() if yellow(worn) else there)
        for deep, felt in able.items():
            if felt:
                cool.setdefault((deep, frozenset(felt)), []).append(family)
    for (deep, bars), families in cool.items():
        name = name_of(deep, looks)
        yield Draft(
            _titled(families, "feel the strokes"),
            f"what begins hard, '{name}' added to the colours there; faint, so that quick strokes cannot flash",
            "stir", union(families), spans_of(bars), {"off": 0.5, "least": 0}, name, "plus-lighter",
            int(100 * faint(deep)) / 100, spare=True,
        )  # fmt: skip


def name_of(deep: str, looks: dict[str, Staging]) -> str:
    """The palette of a deep colour: ``deep`` for the first that a song has, then by its letter."""
    letters = [look.letter for look in looks.values() if look.colours.deep == deep]
    return "deep" if letters[0] == next(iter(looks)) else f"{letters[0]} deep"


def _titled(families: list[Family], words: str) -> str:
    told = f"{called(families)} {words}"
    return told[0].upper() + told[1:]


def _up(share: float) -> float:
    """To two digits, never less."""
    return 1 - int(100 * (1 - share)) / 100
