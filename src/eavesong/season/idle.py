"""The colour that a house shows between songs, within what the house wishes: what stays dark, and in what colours."""

from __future__ import annotations

from typing import TYPE_CHECKING

from eavesong.colours import parse_colour
from eavesong.palettes import ALL, hexes
from eavesong.playback.source import one_colour
from eavesong.scene import Reopened

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from eavesong.playback.source import FileSource


def idle_frame(source: FileSource, colour: str, level: float) -> NDArray[np.uint8]:
    """A frame, uint8 (channel,), in one ``colour`` at ``level`` 0..0.5 on the house of these frames.

    What the house wishes unlit stays dark; a house that wishes one palette in place of all shows its first colour.
    """
    light = parse_colour(_own_colour(source) or colour)
    return one_colour(source.file.patch, source.wiring.channel_count, light, level, dark=_unlit(source))


def idle_words(source: FileSource, colour: str) -> str:
    """What that is, for people: ``gold``, or ``gold, here in the house's own #19a0ff; unlit: hedge``."""
    own, unlit = _own_colour(source), _unlit(source)
    named = ", ".join(sorted(unlit)[:6]) + (f" and {len(unlit) - 6} more" if len(unlit) > 6 else "")
    return colour + (f", here in the house's own {own}" if own else "") + (f"; unlit: {named}" if unlit else "")


def _unlit(source: FileSource) -> frozenset[str]:
    return frozenset(prop.name for prop in Reopened(source.file).layout.props if not prop.lit)


def _own_colour(source: FileSource) -> str:
    """The first colour of the palette that takes the place of all; empty where there is none."""
    palette = Reopened(source.file).layout.palettes.get(ALL)
    return hexes(palette)[0] if palette else ""
