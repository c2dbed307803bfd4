"""What a changed house does to a show: cue by cue what it lit and lights, what went dark, and what would mend it.

Nothing is rendered here; `eavesong.retarget.retarget` does that.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence, Set
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from eavesong.check.cues import asked_for, words_of_stand_in
from eavesong.check.light import SELDOM, covered_seconds
from eavesong.layout.fields import is_tag
from eavesong.layout.house import grouped
from eavesong.retarget.changes import HouseChange, PropChange, compare_houses, pair_props, pin_keeps_old
from eavesong.retarget.wishes import forgotten
from eavesong.scene.place import PlacedCue, finder_for, names_of, place_cues
from eavesong.scene.roles import PARENTS, ROLE_OF_SHAPE, ZONES, roles_of, wider, zone_of
from eavesong.show.load import Show
from eavesong.show.selection import parse_selector
from eavesong.words import clock_text

if TYPE_CHECKING:
    from eavesong.layout import Layout, Prop
    from eavesong.music.grid import BeatGrid
    from eavesong.show.model import Cue

Floats = NDArray[np.float64]

COVERED = "A cue is on it, but no light leaves it: see what darkens it above, or what the cue waits for in vain."


@dataclass(frozen=True)
class Lit:
    """What a cue lights on one house."""

    taken: str
    """The selector, or what stands in for it."""
    choice: int
    """From 1; 0 when it lights nothing, one more than there are when something stands in."""
    props: tuple[str, ...]
    pixels: int


@dataclass(frozen=True)
class CueChange:
    """What became of one cue."""

    number: int
    """Which cue of the show, from 1."""
    name: str
    """``cue 3 'Chorus'``."""
    effect: str
    before: Lit
    now: Lit
    gained: tuple[str, ...]
    """Props that it lights and did not before."""
    lost: tuple[str, ...]
    """Props that it lit before, gone or not."""
    state: str
    """``same``, ``changed``, ``another choice``, ``fall-back``, ``dark`` or, when it was so before, ``still dark``;
    ``unlit`` where all that it means is wished to be dark."""
    proposals: tuple[str, ...]


@dataclass(frozen=True)
class DarkProp:
    """A prop of the new house that no light leaves, though it is not meant to be dark."""

    name: str
    why: str
    """``added``, ``went dark`` or ``was dark before``; of one that is seldom lit, for how much of the song it is."""
    proposal: str


@dataclass(frozen=True)
class Retargeting:
    """What became of a house and of a show on it; equal for equal input."""

    show: str
    house: HouseChange
    pin_in_new_only: bool
    """Whether ``house.pin`` belongs into the new layout alone; else into both, and the old frames are of no use."""
    cues: tuple[CueChange, ...]
    dark: tuple[DarkProp, ...]
    unlit: tuple[str, ...] = ()
    """Props of the new house that are meant to be dark."""
    seldom: tuple[DarkProp, ...] = ()
    """Props that are new or have other tags, and are dark for most of the song."""
    forgotten: tuple[str, ...] = ()
    """What the old house wished and the new one does not, in words."""
    flashes: tuple[str, ...] = ()
    """What is to be said of flashes in the new frames; empty where nothing is, or nobody looked."""

    @property
    def needs_a_look(self) -> bool:
        """Whether a cue or a prop is dark that is not meant to be, or a new prop for most of the song, something stands
        in, the house frame moved, or the new frames flash too often."""
        states = {cue.state for cue in self.cues}
        moved = self.house.frame_moved and not self.house.another
        return (
            moved
            or bool(self.dark or self.seldom or self.flashes)
            or not states.isdisjoint({"dark", "still dark", "fall-back"})
        )

    def as_dict(self) -> dict[str, Any]:
        """The report as plain dictionaries, lists and numbers, for JSON."""
        return asdict(self) | {"needs_a_look": self.needs_a_look}


def retargeting(
    show: Show, old: Layout, new: Layout, grid: BeatGrid, *, never: tuple[Collection[int], Collection[int]] = ((), ()),
    placed: tuple[Sequence[PlacedCue], Sequence[PlacedCue]] | None = None, change: HouseChange | None = None,
    seldom: Mapping[float, Sequence[int]] | None = None,
) -> Retargeting:  # fmt: skip
    """What becomes of ``show``, to the song of ``grid``, when the house ``old`` becomes ``new``.

    never: props of the old and of the new house that no light was seen to leave, whatever cues are on them.
    placed: the show's cues on the old and on the new house, where they are known already; change: likewise what
    changed between the houses; seldom: props of the new house by the seconds for which they are lit, where that is
    less than half of the song.
    """
    change = change or compare_houses(old, new)
    before, now = placed or (place_cues(show, old, grid), place_cues(show, new, grid))
    adviser = _Adviser(show, old, new, now)
    cues = tuple(_cue_change(show, a, b, old, new, adviser) for a, b in zip(before, now, strict=True))
    return Retargeting(
        show=show.title,
        house=change,
        pin_in_new_only=pin_keeps_old(change, old, new),
        cues=cues,
        dark=tuple(_dark(change, _lit_by(before) - set(never[0]), _lit_by(now), never[1], old, new, adviser)),
        forgotten=tuple(forgotten(old, new)),
        unlit=tuple(grouped(new, [index for index, prop in enumerate(new.props) if not prop.lit])),
        seldom=tuple(
            DarkProp(new.props[index].name, lit_for(seconds, grid), adviser.for_prop(index))
            for seconds, props in (seldom or {}).items() for index in props if new.props[index].lit
        ),
    )  # fmt: skip


def lit_for(seconds: float, grid: BeatGrid) -> str:
    """``lit for 0:40 of 3:00``."""
    return f"lit for {clock_text(seconds, 0)} of {clock_text(grid.duration, 0)}"


def _cue_change(
    show: Show, before: PlacedCue, now: PlacedCue, old: Layout, new: Layout, adviser: _Adviser
) -> CueChange:
    a, b = _lit(before, old), _lit(now, new)
    wished = now.taken.choice < 0 and bool(adviser.finder.unlit(show.cues[now.index].on))
    here, there = adviser.pairs, {index: was for was, index in adviser.pairs.items()}
    same = a.pixels == b.pixels and {here.get(index) for index in before.props} == set(now.props)
    state = "unlit" if wished else _state(show.cues[now.index], before, now, same)
    mend = state in ("dark", "still dark", "fall-back")
    return CueChange(
        number=now.index + 1,
        name=show.called(now.index),
        effect=show.cues[now.index].effect,
        before=a,
        now=b,
        gained=tuple(grouped(new, [index for index in now.props if there.get(index) not in before.props])),
        lost=tuple(grouped(old, [index for index in before.props if here.get(index) not in now.props])),
        state=state,
        proposals=tuple(adviser.for_cue(before, now)) if mend else (),
    )


def _lit(cue: PlacedCue, layout: Layout) -> Lit:
    return Lit(cue.taken.text, cue.taken.choice + 1, tuple(grouped(layout, cue.props)), int(cue.weight.sum()))


def _state(cue: Cue, before: PlacedCue, now: PlacedCue, same: bool) -> str:
    """What became of a cue; ``same``: whether it is on the same props, whatever they are called, and as many pixels."""
    if not now.props and now.does == "darkens":
        return "nothing to darken"
    if not now.props:
        return "dark" if before.props else "still dark"
    if now.taken.stand_in and not asked_for(cue, now.taken):
        return "fall-back"
    if now.taken != before.taken:
        return "another choice"
    return "same" if same else "changed"


def _dark(
    change: HouseChange,
    was_lit: set[int],
    reached: set[int],
    never: Collection[int],
    old: Layout,
    new: Layout,
    adviser: _Adviser,
) -> Iterator[DarkProp]:
    """The props of the new house that no light leaves, each with why and what would bring it light."""
    names = {old.props[index].name for index in was_lit}
    by_name: dict[str, PropChange] = {prop.name: prop for prop in change.props if prop.kinds != ("gone",)}
    for index, prop in enumerate(new.props):
        if prop.lit and (index not in reached or index in never):
            was = by_name[prop.name].was
            why = "added" if not was else "went dark" if was in names else "was dark before"
            yield DarkProp(
                prop.name, why, COVERED if index in reached else adviser.idle(index) or adviser.for_prop(index)
            )


def _lit_by(cues: Sequence[PlacedCue]) -> set[int]:
    """The props that cues are on which give light."""
    return {index for cue in seen(cues) for index in cue.props}


def seen(cues: Sequence[PlacedCue]) -> list[PlacedCue]:
    """The cues that give light at some time of the song."""
    return [
        cue
        for cue in cues
        if cue.gives_light and any(span.start < cue.grid.duration and span.end > 0 for span in cue.spans)
    ]


def _said_roles(prop: Prop) -> frozenset[str]:
    """The roles of a prop, but for that of its shape where its tags say that it is something else."""
    roles = roles_of(prop)
    return frozenset() if prop.tags and roles == {ROLE_OF_SHAPE.get(prop.shape)} and not roles & prop.tags else roles


def _may_be(tag: str, kin: Set[str]) -> bool:
    """Whether a prop of these roles, and of the wider ones, may bear a tag: not what other shapes are called by, but
    that arches and canes both stand on a path, nor what it is not, as a cane is no door."""
    parent = PARENTS.get(tag, "")
    if tag in ROLE_OF_SHAPE.values() and tag not in kin and not (parent in kin and PARENTS[parent]):
        return False
    return tag not in PARENTS or bool(kin & {*wider(tag)}) or not (kin or "opening" in wider(tag))


class _Adviser:
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

        Where that is less than half of the song, also the next one by which it is more.
        """
        prop = self.new.props[index]
        on_now = seen(self.now)
        lit = sorted({other for cue in on_now for other in cue.props})
        if not lit:
            return "Add a cue on 'all'."
        near = sorted(lit, key=lambda other: float(np.linalg.norm(self.places[1][other] - self.places[1][index])))
        roles = sorted(roles_of(prop), key=lambda role: (role != ROLE_OF_SHAPE.get(prop.shape), role))
        likely = [*roles, *(tag for other in near[:8] for tag in sorted(self.new.props[other].tags))]
        wanted = [word for cue in self.show.cues for text in cue.on for word in parse_selector(text).words]
        kin = {word for role in _said_roles(prop) for word in wider(role)}
        grid, advice = on_now[0].grid, ""
        for tag in dict.fromkeys([*likely, *wanted]):
            if not is_tag(tag.lower()) or not _may_be(tag, kin) or not (kin or self._lies_where(tag, index)):
                continue
            cues = self._lit_with(index, tag.lower())
            seconds = covered_seconds([(span.start, span.end) for cue in cues for span in cue.spans], grid.duration)
            often = seconds >= SELDOM * grid.duration
            if not cues or (advice and not often):
                continue
            beside = next((self.new.props[o].name for o in near if tag in self.new.props[o].tags), "")
            tagged, names = f"the tag '{tag}'" + (f", like '{beside}'" if beside else ""), [cue.name for cue in cues]
            if advice:
                return f"{advice} With {tagged}, {_few(names)} {_light(names)} it for most of the song."
            advice = f"Give it {tagged}: then {_few(names)} {_light(names)} it"
            if often:
                return f"{advice}."
            advice = f"{advice}, for {clock_text(seconds, 0)} of the song; add a cue for more of it."
        return advice or "Add a cue on it, or on 'all'."

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

    def for_cue(self, before: PlacedCue, now: PlacedCue) -> Iterator[str]:
        """What would have a cue light what is meant: a tag for the props nearest to what it lit, or another choice."""
        own = self.show.cues[now.index]
        if own.within and not now.props and self.finder.select(own.on, None)[1].any():
            yield "No pixel of it lies within its box now: widen 'within', or delete it."
            return
        wanted = self._wanted(own.on if before.taken.choice < 0 or before.taken.stand_in else (before.taken.text,))
        kin = list(dict.fromkeys(self.new.props[index].member_of for index in self._kin(before.props)))
        words = self._words_for(kin) if kin else []
        named = is_tag(wanted) or not before.props
        if kin and words and not (named or now.taken.stand_in):
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
            keep = "Or keep" if kin and named else "To keep"  # the only one of the above that is told beside it
            yield f"{keep} {shown}: add '{word}' to 'on' as a choice of its own, and this is no longer told."

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
