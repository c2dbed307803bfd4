"""What a changed house does to a show: cue by cue what it lit and lights, what went dark, and what would mend it.

Nothing is rendered here; `eavesong.retarget.retarget` does that.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from eavesong.check.cues import asked_for
from eavesong.layout.house import grouped
from eavesong.retarget.advice import Adviser, seen
from eavesong.retarget.changes import HouseChange, PropChange, compare_houses, pin_keeps_old
from eavesong.retarget.wishes import forgotten
from eavesong.scene.place import PlacedCue, place_cues
from eavesong.show.load import Show
from eavesong.words import clock_text

if TYPE_CHECKING:
    from eavesong.layout import Layout
    from eavesong.music.grid import BeatGrid
    from eavesong.show.model import Cue

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
    ``unlit`` where all that it means is wished to be dark, ``never seen`` where something is painted over it that was
    not before."""
    proposals: tuple[str, ...]
    under: str = ""
    """What is painted over one that is never seen: ``cue 7 'Gold'``."""


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
        """Whether a cue or a prop is dark that is not meant to be, or a new prop for most of the song, a cue is never
        seen any more or has lost a prop that is called otherwise now, something stands in, the house frame moved, or
        the new frames flash too often."""
        states = {cue.state for cue in self.cues}
        moved = self.house.frame_moved and not self.house.another
        return (
            moved
            or bool(self.dark or self.seldom or self.flashes)
            or not states.isdisjoint({"dark", "still dark", "fall-back", "never seen"})
            or any(cue.proposals for cue in self.cues)
        )

    def as_dict(self) -> dict[str, Any]:
        """The report as plain dictionaries, lists and numbers, for JSON."""
        return asdict(self) | {"needs_a_look": self.needs_a_look}


def retargeting(
    show: Show, old: Layout, new: Layout, grid: BeatGrid, *, never: tuple[Collection[int], Collection[int]] = ((), ()),
    placed: tuple[Sequence[PlacedCue], Sequence[PlacedCue]] | None = None, change: HouseChange | None = None,
    seldom: Mapping[float, Sequence[int]] | None = None, under: Mapping[int, int] | None = None,
) -> Retargeting:  # fmt: skip
    """What becomes of ``show``, to the song of ``grid``, when the house ``old`` becomes ``new``.

    never: props of the old and of the new house that no light was seen to leave, whatever cues are on them.
    placed: the show's cues on the old and on the new house, where they are known already; change: likewise what
    changed between the houses; seldom: props of the new house by the seconds for which they are lit, where that is
    less than half of the song; under: cues, from 0, that are never seen on the new house and were on the old one, each
    with that which is painted over it.
    """
    change = change or compare_houses(old, new)
    before, now = placed or (place_cues(show, old, grid), place_cues(show, new, grid))
    adviser = Adviser(show, old, new, now)
    pairs = zip(before, now, strict=True)
    cues = tuple(_cue_change(show, a, b, old, new, adviser, (under or {}).get(a.index)) for a, b in pairs)
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
    show: Show, before: PlacedCue, now: PlacedCue, old: Layout, new: Layout, adviser: Adviser, under: int | None = None
) -> CueChange:
    a, b = _lit(before, old), _lit(now, new)
    own = show.cues[now.index]
    wished = now.taken.choice < 0 and bool(adviser.finder.unlit(own.on, own.within))
    here, there = adviser.pairs, {index: was for was, index in adviser.pairs.items()}
    same = a.pixels == b.pixels and {here.get(index) for index in before.props} == set(now.props)
    same = same and all(_turn(before, old, index) == _turn(now, new, here[index]) for index in before.props)
    state = "unlit" if wished else _state(own, before, now, same)
    mend = state in ("dark", "still dark", "fall-back")
    proposals = [*(adviser.for_cue(before, now) if mend else adviser.renamed(before, now))]
    over = "" if under is None else show.called(under)
    if over:
        state = "never seen"
        proposals.append(f"Give {over} a 'blend' or 'opacity', or take out of its 'on' what both of them light.")
    return CueChange(
        number=now.index + 1,
        name=show.called(now.index),
        effect=show.cues[now.index].effect,
        before=a,
        now=b,
        gained=tuple(grouped(new, [index for index in now.props if there.get(index) not in before.props])),
        lost=tuple(grouped(old, [index for index in before.props if here.get(index) not in now.props])),
        state=state,
        proposals=tuple(proposals),
        under=over,
    )


def _turn(cue: PlacedCue, layout: Layout, index: int) -> float:
    """The turn of a prop in a cue's own order; 0 where it has none."""
    return 0.0 if cue.number is None else float(cue.number[layout.props[index].start])


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
    adviser: Adviser,
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
