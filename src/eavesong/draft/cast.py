"""The cast: who on a house can lead, support and answer, as words that any house understands.

Five families, by what props are. A family's words are roles with fall-backs; where the house is known they are the
words that something there answers to, and props without a role go where they hang.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from eavesong.scene.roles import PARENTS, roles_of, wider
from eavesong.show.selection import LONGEST

if TYPE_CHECKING:
    from eavesong.layout import Layout, Prop

LEAST = 0.06
"""Share of the pixels from which a family can lead: less is not seen from the street as the house's own voice."""

ROLES = {
    "roof": ("roofline", "eaves", "gable", "ridge", "verge", "icicles"),
    "front": ("post", "upright"),
    "trees": ("tree", "trunk", "bush"),
    "ground": ("arch", "cane", "path", "hedge", "ball", "spot"),
    "centre": ("star", "spokes", "ring", "wreath", "grid", "net"),
}
"""The families and the roles that belong to each."""
ZONES = {
    "roof": ("upper",), "front": ("walls",), "trees": ("garden",), "ground": ("ground",),
    "centre": ("figure or sheet", "top", "upper"),
}  # fmt: skip
"""What stands in for a family on a house that has none of it."""
WORDS = {
    "roof": "roof", "front": "posts", "trees": "trees", "ground": "ground", "centre": "centre pieces",
}  # fmt: skip
"""What people call the families."""
GARDEN = ("trees", "ground")
"""Families in front of the house; the others hang on it."""
WINDOWS = ("window", "door")
"""Roles of what is lit all through, since somebody is at home, and belongs to no family."""
TALL = ("grid or net", "tree or post", "upper")
"""What can show how high a note is: screens, else tall props."""


@dataclass(frozen=True)
class Family:
    """A group of props that act together."""

    name: str
    on: tuple[str, ...]
    """Selectors, in order of preference."""
    share: float
    """Of the house's pixels; a guess where the house is not known."""
    row: bool
    """Whether it has rows whose members can take turns."""

    @property
    def called(self) -> str:
        """What people call it."""
        return WORDS[self.name]


@dataclass(frozen=True)
class Cast:
    """Everybody on the house, those that light most first."""

    families: tuple[Family, ...]
    tall: tuple[str, ...]
    """What can show how high a note is."""

    @property
    def leaders(self) -> tuple[Family, ...]:
        """The families that can lead: those that light enough to be seen, two at least where there are two."""
        able = tuple(family for family in self.families if family.share >= LEAST and family.name != "front")
        return able if len(able) >= 2 else self.families[:2]


ANY_HOUSE = Cast(
    tuple(
        Family(name, (" or ".join(roles), *ZONES[name]), share, name in ("ground", "trees", "front"))
        for (name, roles), share in zip(ROLES.items(), (0.3, 0.2, 0.2, 0.2, 0.1), strict=True)
    ),
    TALL,
)
"""The cast of a house that is not known."""


def cast_of(layout: Layout | None) -> Cast:
    """The cast of a house, the largest families first; that of any house where there is none.

    Props that the house wishes to be unlit play no part.
    """
    if layout is None or not any(prop.lit and prop.stop > prop.start for prop in layout.props):
        return ANY_HOUSE
    members: dict[str, list[Prop]] = {name: [] for name in ROLES}
    lit = [prop for prop in layout.props if prop.lit and prop.stop > prop.start]
    for prop in [prop for prop in lit if not {*roles_of(prop)} & {*WINDOWS}] or lit:
        members[_family_of(layout, prop)].append(prop)
    families = [_family(layout, name, props) for name, props in members.items() if props]
    families.sort(key=lambda family: -family.share)
    return Cast(tuple(families), TALL)


def _family_of(layout: Layout, prop: Prop) -> str:
    """Where a prop belongs: by its roles, the narrowest that tells, else by where it hangs."""
    roles = roles_of(prop)
    for name in ("centre", "trees", "ground", "front", "roof"):
        if any(role in ROLES[name] or any(wide in ROLES[name] for wide in wider(role)) for role in roles):
            return name
    high = float(layout.pixels.centre_y[prop.start])
    return "roof" if high >= 0.5 else "front" if high >= 0.2 else "ground"


def _family(layout: Layout, name: str, props: list[Prop]) -> Family:
    own = {prop.name for prop in props}
    others = {role for prop in layout.props if prop.lit and prop.name not in own for role in roles_of(prop)}
    meant = {word for role in others for word in (role, *wider(role))}
    words = list(dict.fromkeys(word for prop in props for word in _apart(_words(name, prop), prop, meant)))
    order = {role: at for at, role in enumerate(ROLES[name])}
    words.sort(key=lambda word: order.get(word, len(order)))
    share = sum(prop.stop - prop.start for prop in props) / layout.pixel_count
    rows = {prop.member_of for prop in props if prop.number > 0}
    roles = " or ".join(ROLES[name])
    first = " or ".join(words)
    first = first if len(first) <= LONGEST else first[:LONGEST].rpartition(" or ")[0]
    choices = dict.fromkeys((first, roles, *ZONES[name]))
    return Family(name, tuple(choices), share, bool(rows))


def _words(name: str, prop: Prop) -> list[str]:
    """What this prop answers to: a role among its tags, else its own name."""
    tags = {tag.lower() for tag in prop.tags}
    for role in ROLES[name]:
        if role in tags:
            return [role]
    kin = sorted(tag for tag in tags & PARENTS.keys() if any(wide in ROLES[name] for wide in wider(tag)))
    return kin[:1] or [_quoted(prop.member_of)]


def _apart(words: list[str], prop: Prop, meant: set[str]) -> list[str]:
    """The words, or the prop's own name where others are ``meant`` by them, too: a tree along a path is no path."""
    return [_quoted(prop.member_of)] if meant & {*words} else words


def _quoted(name: str) -> str:
    plain = name.lower()
    special = {"and", "or", "not", "all"} & set(plain.split()) or not all(c.isalnum() or c in " _-" for c in plain)
    return f"'{plain}'" if special and "'" not in plain else plain


def called(families: Sequence[Family]) -> str:
    """What people call several families together."""
    words = [family.called for family in families]
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def union(families: Sequence[Family]) -> tuple[str, ...]:
    """Selectors of several families together, choice by choice."""
    choices = [tuple(dict.fromkeys(texts)) for texts in zip(*(family.on for family in families), strict=False)]
    joined = ["all" if "all" in texts else " or ".join(texts) for texts in choices]
    return tuple(dict.fromkeys(text for text in joined if len(text) <= LONGEST)) or families[0].on
