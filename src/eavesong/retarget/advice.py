"""What would have light come back on a changed house: a tag, another choice, or a word that there is nothing to do."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence, Set
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.check.cues import words_of_stand_in
from eavesong.check.light import SELDOM, covered_seconds
from eavesong.layout.fields import is_tag
from eavesong.retarget.changes import pair_props
from eavesong.scene.place import PlacedCue, finder_for, names_of
from eavesong.scene.roles import PARENTS, ROLE_OF_SHAPE, ZONES, roles_of, wider, zone_of
from eavesong.show.load import Show
from eavesong.show.selection import parse_selector
from eavesong.words import clock_text

if TYPE_CHECKING:
    from eavesong.layout import Layout, Prop

Floats = NDArray[np.float64]
NEAR = 0.5
"""How far away, in house coordinates, props are that are no neighbours any more."""
WIRES = frozenset({"line", "polyline"})
"""Shapes on which a picture is one flat colour."""
SHEETS = frozenset({"grid", "cone", "sphere", "star", "spokes"})
"""Shapes on which it is seen."""


def seen(cues: Sequence[PlacedCue]) -> list[PlacedCue]:
    """The cues that give light at some time of the song."""
    return [
        cue
        for cue in cues
        if cue.gives_light and any(span.start < cue.grid.duration and span.end > 0 for span in cue.spans)
    ]


def _said_roles(prop: Prop) -> frozenset[str]:
    """The roles of a prop, but for that of its shape where its tags say that it is something else of the trade."""
    roles = roles_of(prop)
    return (
        frozenset()
        if prop.tags & PARENTS.keys() and roles == {ROLE_OF_SHAPE.get(prop.shape)} and not roles & prop.tags
        else roles
    )


def _may_be(tag: str, kin: Set[str]) -> bool:
    """Whether a prop of these roles, and of the wider ones, may bear a tag: not what other shapes are called by, or
    kinds of those, as a ball is no wreath, but that arches and canes both stand on a path, nor what it is not, as a
    cane is no door."""
    parent, shapes = PARENTS.get(tag, ""), ROLE_OF_SHAPE.values()
    if (tag in shapes or parent in shapes) and tag not in kin and not (parent in kin and PARENTS[parent]):
        return False
    return tag not in PARENTS or bool(kin & {*wider(tag)}) or not (kin or "opening" in wider(tag))


class Adviser:
    """Finds the tag, or the part of the house, that would bring light back."""

    def __init__(self, show: Show, old: Layout, new: Layout, now: Sequence[PlacedCue]) -> None:
        self.show, self.old, self.new, self.now = show, old, new, now
        self.finder = finder_for(show, new)
        self.places = (_middles(old), _middles(new))
        self.pairs = {was: index for index, was in pair_props(old, new).items()}

    def idle(self, index: int) -> str:
        """The cues that are on a prop of the new house and at no time of the song; empty where there are none."""
        lit = {cue.index for cue in seen(self.now)}
        cues = [cue.name for cue in self.now if index in cue.props and cue.gives_light and cue.index not in lit]
        are = "is" if len(cues) == 1 else "are"
        return f"{_few(cues)} {are} on it, but at no time of this song: see what 'check' says of it." if cues else ""

    def for_prop(self, index: int) -> str:
        """What would light the prop of the new house: the tag that suits it best, and the cues that then do.

        Where that is less than half of the song, also the next one by which it is more: at worst what something else of
        its wider kind is called by, as a star and a wreath are both figures.
        """
        prop = self.new.props[index]
        on_now = seen(self.now)
        lit = sorted({other for cue in on_now for other in cue.props})
        if not lit:
            return "Add a cue on 'all'."
        near = sorted(lit, key=lambda other: float(np.linalg.norm(self.places[1][other] - self.places[1][index])))
        roles = sorted(roles_of(prop), key=lambda role: (role != ROLE_OF_SHAPE.get(prop.shape), role))
        close = [
            other for other in near[:8] if float(np.linalg.norm(self.places[1][other] - self.places[1][index])) < NEAR
        ]
        likely = [*roles, *(tag for other in close or near[:1] for tag in sorted(self.new.props[other].tags))]
        wanted = [word for cue in self.show.cues for text in cue.on for word in parse_selector(text).words]
        kin = {word for role in _said_roles(prop) for word in wider(role)}
        props = [*self.new.props, *(self.old.props[was] for was in self.pairs)]  # by their old names, too
        alone = {name.lower() for each in props for name in (each.name, each.member_of)} - PARENTS.keys()
        alone -= {tag.lower() for each in self.new.props for tag in each.tags}  # their cues are meant for one prop
        tags = [tag for tag in dict.fromkeys([*likely, *wanted]) if is_tag(tag.lower()) and tag.lower() not in alone]
        fitting = [tag for tag in tags if _may_be(tag, kin) and (kin or self._lies_where(tag, index))]
        own_kin = {*wider(ROLE_OF_SHAPE.get(prop.shape, ""))}
        fitting.sort(key=lambda tag: tag not in own_kin)  # before what is called by where it hangs
        if not kin:  # else it is what those cues look for first
            fitting = [tag for tag in fitting if not self._left_by(index, tag.lower())]
        others = [tag for tag in tags if tag not in fitting and tag in PARENTS and kin & {*wider(tag)}]
        grid, advice, known = on_now[0].grid, "", False
        for tag in [*fitting, *others]:
            if prop.shape in WIRES and self._is_for_sheets(tag):
                continue
            cues = self._lit_with(index, tag.lower())
            seconds = covered_seconds([(span.start, span.end) for cue in cues for span in cue.spans], grid.duration)
            often = seconds >= SELDOM * grid.duration
            if not cues or (not often and (advice or tag in others)):
                continue
            beside = next((self.new.props[o].name for o in near if tag in self.new.props[o].tags), "")
            tagged, names = f"the tag '{tag}'" + (f", like '{beside}'" if beside else ""), [cue.name for cue in cues]
            if known:  # a word of the trade; else the one that ends it is told alone
                return f"{advice} With {tagged}, {_few(names)} {_light(names)} it for most of the song."
            advice = f"Give it {tagged}: then {_few(names)} {_light(names)} it"
            if left := [f"'{name}'" for name in self._left_by(index, tag.lower())]:
                advice = f"{advice}, and no longer {_few(left)}"
            if often:
                return f"{advice}."
            known = tag in PARENTS
            advice = f"{advice}, for {clock_text(seconds, 0)} of the song; add a cue for more of it."
        return advice or "Add a cue on it, or on 'all'."

    def _is_for_sheets(self, tag: str) -> bool:
        """Whether all that bear a tag have a width and height of their own, on which pictures are drawn."""
        shapes = {prop.shape for prop in self.new.props if tag in prop.tags}
        return "sheet" in wider(tag) or (bool(shapes) and shapes <= SHEETS)

    def _lies_where(self, tag: str, index: int) -> bool:
        """Whether a prop lies where those of a role usually do, as a porch rail is no roofline; true of other tags."""
        if tag not in PARENTS or not (zone := zone_of(tag)):
            return True
        axis, low, high = ZONES[zone]
        return bool(low <= self.places[1][index]["xyz".index(axis)] <= high)

    def _lit_with(self, index: int, tag: str) -> list[PlacedCue]:
        """The cues that would light a prop, and do not, if it had one more tag and everything else stayed."""
        names = names_of(self.new.props[index]) | {tag}
        inside = self.new.props[index].start, self.new.props[index].stop
        found = []
        for cue in (each for each in seen(self.now) if index not in each.props):
            own = self.show.cues[cue.index]
            texts = own.on if cue.taken.choice < 0 or cue.taken.stand_in else own.on[: cue.taken.choice + 1]
            weight = self.finder.select(("all",), own.within)[1][slice(*inside)]
            if weight.any() and any(parse_selector(text).matches(names) for text in texts):
                found.append(cue)
        return found

    def _left_by(self, index: int, tag: str) -> list[str]:
        """The entries that cues would light no longer if a prop had one more tag: those go to an earlier choice."""
        names, left = names_of(self.new.props[index]) | {tag}, []
        for cue in self._lit_with(index, tag):
            own = self.show.cues[cue.index].on[: max(0, cue.taken.choice)]  # all of them where something stands in
            earlier = next((each for each in map(parse_selector, own) if each.matches(names)), None)
            if earlier is not None:
                props = [self.new.props[other] for other in cue.props]
                left += [prop.member_of for prop in props if not earlier.matches(names_of(prop))]
        return list(dict.fromkeys(left))

    def for_cue(self, before: PlacedCue, now: PlacedCue) -> Iterator[str]:
        """What would have a cue light what is meant: a tag for the props nearest to what it lit, or another choice."""
        own = self.show.cues[now.index]
        renamed = [*self.renamed(before, now)]  # lights what is meant, where a wider tag lights more
        if own.within and not renamed and not now.props and self.finder.select(own.on, None)[1].any():
            yield "No pixel of it lies within its box now: widen 'within', or delete it."
            return
        wanted = self._wanted(own.on if before.taken.choice < 0 or before.taken.stand_in else (before.taken.text,))
        kin = list(dict.fromkeys(self.new.props[index].member_of for index in self._kin(before.props)))
        words = self._words_for(kin) if kin else []
        named = is_tag(wanted) or not before.props
        if renamed:
            yield from renamed
        elif kin and words and not (named or now.taken.stand_in):
            have = [self.new.props[index].member_of for index in self.new.tagged(words[0])] or kin
            yield f"Add to its 'on' as another choice: '{words[0]}', which is {_quoted(list(dict.fromkeys(have)))}."
        elif kin and named:
            yield f"Give {_quoted(kin)}, most like what it lit before, the tag '{wanted}'."
            if words and not now.taken.stand_in:
                yield f"Or add to its 'on': '{words[0]}'."
        elif before.props and not now.props:
            was = _quoted(self._was(before))
            yield f"Nothing here is like what it lit ({was}): leave it dark, or add 'all' to its 'on'."
        elif not now.props:
            given = f"Give the props that are meant the tag '{wanted}', or add" if named else "Add"
            yield f"{given} 'all' to its 'on'."
        if now.taken.stand_in:
            shown = now.taken.text.partition(" instead of ")[0]
            word = " or ".join(words_of_stand_in(now.taken)) or "all"
            keep = "Or keep" if renamed or (kin and named) else "To keep"  # what of the above is told beside it
            yield f"{keep} {shown}: add '{word}' to 'on' as a choice of its own, and this is no longer told."

    def renamed(self, before: PlacedCue, now: PlacedCue) -> Iterator[str]:
        """What would have a cue find the props that it names, and that are called otherwise now, in what was asked
        for as far as its choices were taken, and in its order."""
        own, places = self.show.cues[now.index], (before.taken, now.taken)
        asked = len(own.on) if any(taken.choice < 0 for taken in places) else max(taken.choice for taken in places) + 1
        for key, texts in (("on", own.on[:asked]), ("order", own.order)):
            words = {word for text in texts for word in parse_selector(text).words}
            told: dict[str, str] = {}
            for was, index in self.pairs.items():
                old, new = self.old.props[was], self.new.props[index]
                if new.lit and words.isdisjoint({new.name.lower(), new.member_of.lower()}):
                    named = {old.member_of.lower(): new.member_of, old.name.lower(): new.name}
                    told |= {name: other for name, other in named.items() if name in words - names_of(new)}
            for name, other in told.items():
                tag = f", or give it the tag '{name}'" if is_tag(name) else ""
                yield f"'{name}' is called '{other}' now: write that into its '{key}'{tag}."

    def _wanted(self, on: Sequence[str]) -> str:
        words = [word for text in on for word in parse_selector(text).words]
        roles = [word for word in words if zone_of(word)]
        return next(iter([*roles, *words]), on[0])

    def _was(self, before: PlacedCue) -> list[str]:
        """Names of the entries that it lit on the old house."""
        return list(dict.fromkeys(self.old.props[index].member_of for index in before.props))

    def _kin(self, props: Sequence[int]) -> list[int]:
        """The lit props of the new house that are what ``props`` of the old one were: the same ones, else those of
        their role, of a wider role or of their shape, the nearest of them; none where nothing is like them."""
        old, new = self.places
        found = []
        for prop in props:
            if prop in self.pairs:
                found.append(self.pairs[prop])
            elif alike := self._alike(self.old.props[prop]):
                found.append(min(alike, key=lambda index: float(np.linalg.norm(new[index] - old[prop]))))
        return list(dict.fromkeys(found))

    def _alike(self, prop: Prop) -> list[int]:
        """The lit props of the new house that are most of the kind that ``prop`` is of."""
        lit = [index for index, other in enumerate(self.new.props) if other.lit]
        roles = roles_of(prop)
        kin = {word for role in roles for word in wider(role)}
        theirs = {index: roles_of(self.new.props[index]) for index in lit}
        ways: tuple[Callable[[int], bool], ...] = (
            lambda index: bool(theirs[index] & roles),
            lambda index: any(word in kin for role in theirs[index] for word in wider(role)),
            lambda index: not roles and not theirs[index] and self.new.props[index].shape == prop.shape,
        )
        for fits in ways:
            if some := [index for index in lit if fits(index)]:
                return some
        return []

    def _words_for(self, names: Sequence[str]) -> list[str]:
        """Tags that the first of these props has, those that say what it is first, those that many share last."""
        prop = next(prop for prop in self.new.props if prop.member_of == names[0])
        roles = roles_of(prop)
        return sorted(prop.tags, key=lambda tag: (tag not in roles, len(self.new.tagged(tag)), tag)) or [
            f"'{prop.member_of}'"
        ]


def _middles(layout: Layout) -> Floats:
    """(props, 3): house coordinates of the middle of each prop."""
    starts = [prop.start for prop in layout.props]
    pixels = layout.pixels
    return np.stack([pixels.centre_x[starts], pixels.centre_y[starts], pixels.centre_z[starts]], axis=1).astype(float)


def _light(cues: Sequence[str]) -> str:
    return "lights" if len(cues) == 1 else "light"


def _few(words: Sequence[str], most: int = 3) -> str:
    listed = list(words[:most])
    if len(words) > most:
        return f"{', '.join(listed)} and {len(words) - most} more"
    return " and ".join([", ".join(listed[:-1]), listed[-1]] if len(listed) > 1 else listed)


def _quoted(names: Sequence[str]) -> str:
    return _few([f"'{name}'" for name in names])
