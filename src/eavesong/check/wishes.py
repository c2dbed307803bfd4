"""What a house wishes of any show, in the words of this one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from eavesong.layout.house import dimmed, grouped
from eavesong.palettes import ALL, USUAL, hexes

if TYPE_CHECKING:
    from eavesong.colours import Colour, Hue
    from eavesong.layout import Layout
    from eavesong.scene.place import Finder, PlacedCue
    from eavesong.show import Cue, Show

FEW = 4
"""Palettes of one origin, and cues of a hue, that are named at most."""


def wishes_of(show: Show, placed: Sequence[PlacedCue], finder: Finder) -> Iterator[str]:
    """The wishes of the house that count here: colours in place of others, props that stay dark, and cues with them."""
    layout = finder.layout
    used = dict.fromkeys(cue.palette or USUAL for cue in show.cues)
    wished = {name.lower() for name in layout.palettes if name != ALL}
    named: dict[str, str] = {}
    for name in used:
        if isinstance(name, str) and (met := [own for own in show.names_of(name) if own.lower() in wished]):
            named[name] = met[0]
    if named:
        yield f"colours of its own in place of {', '.join(_called(named))}"
    if ALL in layout.palettes and len(named) < len(used):
        mixed = ", mixed where palettes run from one to the next" if len(set(hexes(layout.palettes[ALL]))) > 1 else ""
        yield f"colours of its own in place of all {'others' if named else 'palettes'}{mixed}"
    if layout.colours:
        yield _of_hues(show, finder)
    lists = [
        show.called(cue.index)
        for cue in placed
        if ALL not in layout.palettes
        and not layout.colours
        and {each.lower() for each in _listed(show.cues[cue.index])} & wished
    ]
    if lists:
        yield f"lists of colours stay as they are written: {', '.join(lists)}"
    asked = {own.lower() for own in named.values()}
    if idle := [f"'{name}'" for name in layout.palettes if name != ALL and name.lower() not in asked]:
        yield f"colours in place of {', '.join(idle)}, which no cue of this show asks for"
    yield from dimmed(layout)
    if unlit := [index for index, prop in enumerate(layout.props) if not prop.lit]:
        yield f"unlit: {', '.join(grouped(layout, unlit))}"
    unlit = [cue.index for cue in placed if cue.taken.choice < 0]
    dark = [show.called(at) for at in unlit if finder.unlit(show.cues[at].on, show.cues[at].within)]
    if dark:
        yield f"so nothing is lit by {', '.join(dark)}"


def _called(named: Mapping[str, str]) -> Iterator[str]:
    """Palettes of a show by what the house calls them: ``holly``, ``roof, which is holly``, and of several the first
    few."""
    for own in dict.fromkeys(named.values()):
        names = [name for name, other in named.items() if other == own]
        if own in names:
            yield own
        if others := [name for name in names if name != own]:
            few = others if len(others) <= FEW else [*others[: FEW - 1], f"{len(others) - FEW + 1} more"]
            *most, last = few
            yield f"{', '.join(most)} and {last}, which are {own}" if most else f"{last}, which is {own}"


def _of_hues(show: Show, finder: Finder) -> str:
    """Which of the hues that the house has other colours in place of the show has, and which it has not."""
    changed = {name: changed_by(show, finder.layout, hue) for name, hue in finder.layout.colours.items()}
    met = [f"{name} ({cues})" for name, cues in changed.items() if cues]
    none = [name for name, cues in changed.items() if not cues]
    absent = f"{' or '.join(none)}, of which no palette or setting of this show has any" if none else ""
    return f"colours of its own in place of what is {' or '.join([*met, *([absent] if absent else [])])}"


def changed_by(show: Show, layout: Layout, hue: tuple[Hue, Colour]) -> str:
    """The cues in which the colour that a house has in place of a hue is seen, the first few by name; empty where there
    are none."""
    own = layout.palettes
    cues = [
        show.called(index)
        for index, cue in enumerate(show.cues)
        if any(asked(cue, own, (hue,)) != asked(cue, own) for asked in (show.palette_of, show.parameters_of))
    ]
    return ", ".join(cues if len(cues) <= FEW else [*cues[: FEW - 1], f"{len(cues) - FEW + 1} more"])


def _listed(cue: Cue) -> list[str]:
    """The colours that a cue lists in place of a palette's name."""
    return [] if cue.palette is None or isinstance(cue.palette, str) else [stop.colour for stop in cue.palette]
