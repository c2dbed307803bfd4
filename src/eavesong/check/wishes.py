"""What a house wishes of any show, in the words of this one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from eavesong.palettes import ALL, USUAL
from eavesong.scene.place import grouped

if TYPE_CHECKING:
    from eavesong.scene.place import Finder, PlacedCue
    from eavesong.show import Show


def wishes_of(show: Show, placed: Sequence[PlacedCue], finder: Finder) -> Iterator[str]:
    """The wishes of the house that count here: colours in place of others, props that stay dark, and cues with them."""
    layout = finder.layout
    used = dict.fromkeys(cue.palette or USUAL for cue in show.cues)
    named = [name for name in used if isinstance(name, str) and name in layout.palettes]
    if named:
        yield f"colours of its own in place of {', '.join(named)}"
    if ALL in layout.palettes and len(named) < len(used):
        yield f"colours of its own in place of all {'others' if named else 'palettes'}"
    if unlit := [index for index, prop in enumerate(layout.props) if not prop.lit]:
        yield f"unlit: {', '.join(grouped(layout, unlit))}"
    dark = [show.called(cue.index) for cue in placed if cue.taken.choice < 0 and finder.unlit(show.cues[cue.index].on)]
    if dark:
        yield f"so nothing is lit by {', '.join(dark)}"
