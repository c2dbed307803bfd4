"""Fall-backs: what a cue lights on a house that has none of the props it asks for.

A show names *roles*: words for what a prop is, such as ``eaves`` or ``tree``. On a house without that word the role
stands for its kin, then for the part of the house where such props usually are, then for the whole house::

    eaves  →  any roofline  →  the upper half  →  the whole house

A part of the house that ``on`` names, such as ``ground``, is that part wherever no prop is called so. A prop that
bears no role among its tags is known by its name ("big tree"), else by its shape. What ``on`` itself lists comes
first, and a word that something here answers to keeps its meaning. A word that is no role has no fall-back on a house
that knows roles: it is a name of the author's own, or a slip, and `check` tells of it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.show.selection import Everything, Junction, Negation, Node, Selector, Word

if TYPE_CHECKING:
    from eavesong.layout import Layout, Prop

Mask = NDArray[np.bool_]

PARENTS = {
    "roofline": "", "eaves": "roofline", "ridge": "roofline", "gable": "roofline", "verge": "roofline",
    "icicles": "eaves",
    "opening": "", "window": "opening", "door": "opening", "garage": "opening",
    "upright": "", "post": "upright",
    "sheet": "", "grid": "sheet", "net": "sheet",
    "figure": "", "star": "figure", "spokes": "star", "ring": "figure", "wreath": "ring", "ball": "figure",
    "garden": "", "tree": "garden", "trunk": "tree", "bush": "garden", "hedge": "bush",
    "path": "garden", "arch": "path", "cane": "path", "spot": "garden",
}  # fmt: skip
"""Every role and the wider one that stands in for it; empty for the widest."""

ZONE_OF = {
    "roofline": "upper", "icicles": "upper", "opening": "walls", "door": "lower", "garage": "lower",
    "upright": "walls", "sheet": "walls", "figure": "upper", "ball": "ground", "garden": "ground", "tree": "lower",
}  # fmt: skip
"""Where props of a role usually are; a role that is not here has the zone of the next wider one."""

ZONES = {
    "upper": ("y", 0.5, 1.0), "lower": ("y", 0.0, 0.5), "ground": ("y", 0.0, 0.2), "top": ("y", 0.8, 1.0),
    "walls": ("y", 0.1, 0.7), "left": ("x", 0.0, 1 / 3), "middle": ("x", 1 / 3, 2 / 3), "right": ("x", 2 / 3, 1.0),
}  # fmt: skip
"""Parts of the house frame, 0..1, both ends included: a prop lies in one when the middle of its box does."""

ROLE_OF_SHAPE = {
    "arch": "arch", "cane": "cane", "cone": "tree", "grid": "grid", "helix": "post", "icicles": "icicles",
    "rectangle": "window", "ring": "ring", "sphere": "ball", "spokes": "spokes", "spot": "spot", "star": "star",
}  # fmt: skip
"""What a prop of a shape is taken for when neither its tags nor its name say; a line may be anything."""

WHOLE_HOUSE = "the whole house"


@dataclass(frozen=True, eq=False)
class Fallback:
    """What is lit instead of what a cue asks for."""

    text: str
    """In words: ``roofline instead of eaves``, ``the upper part instead of roofline``, ``the whole house``."""
    props: Mask
    """(props,)."""


def roles_of(prop: Prop) -> frozenset[str]:
    """The roles that a prop is known by: among its tags, else in its name, else that of its shape."""
    tags = frozenset(tag.lower() for tag in prop.tags) & PARENTS.keys()
    if tags:
        return tags
    words = re.findall(r"[a-z]+", prop.member_of.lower())
    named = frozenset(form for word in words for form in (word, word.removesuffix("s"), word.removesuffix("es")))
    shaped = ROLE_OF_SHAPE.get(prop.shape)
    return named & PARENTS.keys() or frozenset([shaped] if shaped else [])


def is_stranger(layout: Layout, selectors: Sequence[Selector]) -> bool:
    """Whether no tag of a house is a role, or a word that one of the selectors asks for."""
    tags = {tag.lower() for prop in layout.props for tag in prop.tags}
    return tags.isdisjoint(PARENTS) and not any(tags & set(selector.words) for selector in selectors)


def wider(role: str) -> Iterator[str]:
    """The role itself, then wider and wider ones."""
    while role:
        yield role
        role = PARENTS.get(role, "")


def zone_of(word: str) -> str:
    """The zone of a role or of a zone's own name; empty for any other word."""
    if word in ZONES:
        return word
    return next((ZONE_OF[role] for role in wider(word) if role in ZONE_OF), "")


class Fallbacks:
    """A layout, asked for stand-ins; ``names`` are what each of its props answers to."""

    def __init__(self, layout: Layout, names: Sequence[frozenset[str]]) -> None:
        self.names = names
        self.known = frozenset().union(*names)
        roles = [roles_of(prop) for prop in layout.props]
        self._under = {
            role: np.array([any(role in wider(own) for own in known) for known in roles], bool) for role in PARENTS
        }
        starts = [prop.start for prop in layout.props]
        middles = {axis: getattr(layout.pixels, f"centre_{axis}")[starts] for axis in ("x", "y")}
        self._zones = {
            zone: (middles[axis] >= np.float32(low)) & (middles[axis] <= np.float32(high))
            for zone, (axis, low, high) in ZONES.items()
        }

    def find(self, choices: Sequence[Selector], fits: Callable[[Mask], bool], stranger: bool) -> Fallback | None:
        """The nearest stand-in for a cue's ``choices`` that ``fits``; None where none does, or none is due."""
        wanting = [(choice, self._missing(choice)) for choice in choices]
        for resolve in (self._meant, self._zone):
            for choice, missing in wanting:
                stands = {word: found for word in missing if (found := resolve(word))}
                if stands and fits(props := self._evaluate(choice.node, stands)):
                    words = " and ".join(dict.fromkeys(name for name, _ in stands.values()))
                    instead = " and ".join(word for word in stands if word not in ZONES)
                    return Fallback(f"{words} instead of {instead}" if instead else words, props)
        for choice, missing in wanting:
            if (missing or stranger) and fits(props := self._all_but_excluded(choice)):
                return Fallback(WHOLE_HOUSE + ("" if props.all() else " but what it excludes"), props)
        return None

    def _all_but_excluded(self, choice: Selector) -> Mask:
        """(props,): every prop, but for those that a selector excludes."""
        everything = np.ones(len(self.names), bool)
        excluded = {*_excluded(choice.node, False)}
        asked = {word: (WHOLE_HOUSE, everything) for word in choice.words if word not in excluded}
        return self._evaluate(choice.node, asked)

    def kin(self, choices: Sequence[Selector]) -> Mask:
        """(props,): the kin of what any of ``choices`` asks for and nothing here answers to."""
        found = np.zeros(len(self.names), bool)
        for choice in choices:
            stands = {word: kin for word in self._missing(choice) if (kin := self._kin(word))}
            if stands:
                found |= self._evaluate(choice.node, stands)
        return found

    def _missing(self, choice: Selector) -> list[str]:
        """The roles and zones in a selector that nothing here answers to, where they are asked for, not excluded."""
        excluded = set(_excluded(choice.node, False))
        return [word for word in choice.words if word not in self.known | excluded and zone_of(word)]

    def _meant(self, word: str) -> tuple[str, Mask] | None:
        """The kin of a role; a part of the house is what it is called, and no stand-in for something else."""
        return self._zone(word) if word in ZONES else self._kin(word)

    def _kin(self, word: str) -> tuple[str, Mask] | None:
        role = next((role for role in wider(word) if self._under.get(role, _NONE).any()), "")
        return ((role if role != word else f"what is a kind of {word}"), self._under[role]) if role else None

    def _zone(self, word: str) -> tuple[str, Mask] | None:
        zone = zone_of(word)
        return (f"the {_PLACE.get(zone, zone + ' part')}", self._zones[zone]) if self._zones[zone].any() else None

    def _evaluate(self, node: Node, stands: dict[str, tuple[str, Mask]]) -> Mask:
        if isinstance(node, Word):
            if node.name in stands:
                return stands[node.name][1]
            return np.array([node.name in names for names in self.names], bool)
        if isinstance(node, Negation):
            return ~self._evaluate(node.inner, stands)
        if isinstance(node, Junction):
            parts = [self._evaluate(part, stands) for part in node.parts]
            joined: Mask = (np.logical_and if node.joint == "and" else np.logical_or).reduce(parts)
            return joined
        return np.ones(len(self.names), bool)


_NONE = np.zeros(1, bool)
_PLACE = {"ground": "ground", "top": "top", "walls": "walls", "middle": "middle"}


def _excluded(node: Node, negated: bool) -> Iterator[str]:
    """The words below an odd number of ``not``."""
    if isinstance(node, Word) and negated:
        yield node.name
    elif isinstance(node, Negation):
        yield from _excluded(node.inner, not negated)
    elif isinstance(node, Junction):
        for part in node.parts:
            yield from _excluded(part, negated)
    elif isinstance(node, Everything):
        return
