"""The colour that a house shows between songs, within what the house wishes and what its songs were limited to."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from eavesong.colours import as_bright, hex_of, nearest_colour, parse_colour, recoloured
from eavesong.errors import EavesongError, FramesError, Problem
from eavesong.palettes import ALL, one_colour_of, well_lit
from eavesong.playback.source import FileSource, one_colour
from eavesong.scene import Reopened
from eavesong.season.housed import HouseNow
from eavesong.season.named import idle_places

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from eavesong.layout import Layout
    from eavesong.season.setlist import Setlist


def idle_source(setlist: Setlist, file: str, allow_public: bool) -> FileSource:
    """The frames of the idle look, over and over; FramesError, with the places where it was looked for, where it is
    missing."""
    path = setlist.idle_file(file)
    if not path.is_file():
        found = f"there is no {idle_places(setlist, file)}"
        raise FramesError(Problem(file, "", found, 'Make it with eavesong render, or name a colour: idle = "gold".'))
    return FileSource(path, allow_public=allow_public, loop=True)


def look_at_idle(setlist: Setlist, look: str | None, allow_public: bool) -> tuple[tuple[Problem, ...], str]:
    """Why the idle look, where it is a file, cannot be shown on the setlist's house, and what people have to know of it
    where it can."""
    if not look or not look.endswith(".h5"):
        return (), ""
    try:
        with contextlib.closing(idle_source(setlist, look, allow_public)) as idle:
            return (), HouseNow(setlist, allow_public=allow_public).takes_idle(idle)
    except FramesError as fault:
        return fault.problems, ""


def idle_outdated(setlist: Setlist) -> Iterator[str]:
    """Of an idle look that is not there, cannot be shown, or was made for a house as it is no more, where no song of
    the setlist makes it: a line for each house."""
    file = setlist.file.evening.idle if setlist.file.evening else None
    if not file or not file.endswith(".h5"):
        return
    for house in setlist.all_houses or ("",):
        there = replace(setlist, house=house)
        made = {os.path.abspath(there.beside(song.frames_file)) for song in there.songs}
        on = f" on {setlist.name_of(house)}" if len(setlist.all_houses) > 1 else ""
        if not there.idle_file(file).is_file():
            if made.isdisjoint(map(os.path.abspath, there.idle_places(file))):
                found = f"there is no {idle_places(there, file)}, so it is dark{on} between the songs"
                yield f'[evening], idle: {found}. Make it with eavesong render, or name a colour: idle = "warm white".'
        elif os.path.abspath(there.idle_file(file)) not in made:
            faults, word = look_at_idle(there, file, True)
            told = [f"{each.file} {each.found}. {each.instead}".strip() for each in faults]
            yield from (f"[evening], idle{on}: {each}" for each in (*told, word) if each)


def idle_frame(source: FileSource, colour: str, level: float) -> NDArray[np.uint8]:
    """A frame, uint8 (channel,), in one ``colour`` at ``level`` 0..0.5 on the house of these frames.

    What the house wishes unlit stays dark; a house that wishes another palette in place of one of that name, or of all,
    shows the colour of that which is most like it. Where the frames were made within a limit, this is dimmed to it;
    FramesError where the house that is limited cannot be known.
    """
    light = parse_colour(_own_colour(source, colour) or one_colour_of(colour))
    frame = one_colour(source.file.patch, source.wiring.channel_count, light, level, dark=_unlit(source))
    limits = Reopened(source.file).terms.limit
    if not limits:
        return frame
    from eavesong.within.limiter import Limiter, limits_from
    from eavesong.within.rig import rig_of

    layout = _whole_house(source)
    return Limiter(layout, rig_of(layout), limits_from(limits), frame_rate=1.0).still(frame)


def idle_words(source: FileSource, colour: str, level: float) -> str:
    """What that is, for people: ``gold``, or ``gold, here in the house's own #19a0ff; unlit: hedge``."""
    own, unlit = _own_colour(source, colour), _unlit(source)
    named = ", ".join(sorted(unlit)[:6]) + (f" and {len(unlit) - 6} more" if len(unlit) > 6 else "")
    told = colour + (f", here in the house's own {own}" if own else "") + (f"; unlit: {named}" if unlit else "")
    limits = Reopened(source.file).terms.limit
    if not limits:
        return told
    try:
        shown = idle_frame(source, colour, level)
    except EavesongError as fault:
        return f"black: {fault}"
    light = parse_colour(own or one_colour_of(colour))
    asked = one_colour(source.file.patch, source.wiring.channel_count, light, level, dark=unlit)
    return told + (f"; dimmed to stay within {', '.join(limits)}" if (shown < asked).any() else "")


def _unlit(source: FileSource) -> frozenset[str]:
    return frozenset(prop.name for prop in Reopened(source.file).layout.props if not prop.lit)


def _own_colour(source: FileSource, colour: str) -> str:
    """What the house has in place of a colour: of the palette for one called so, or for all, the colour most like it
    that is more than hardly lit, for all no brighter than it is; else that for its hue; empty where there is none."""
    layout, light = Reopened(source.file).layout, parse_colour(one_colour_of(colour))
    for name in (colour, ALL):
        if palette := layout.palettes.get(name):
            instead = nearest_colour(light, [stop for _, stop in well_lit(palette)])
            return hex_of(as_bright([instead], [light])[0] if name == ALL else instead)
    instead = recoloured(light, [*layout.colours.values()])
    return hex_of(instead) if instead != light else ""


def _whole_house(source: FileSource) -> Layout:
    """The house of these frames with its supplies: from its layout where that lies as it was, else from the text of it
    in the frames."""
    from eavesong.layout import load_layout

    reopened = Reopened(source.file)
    text, order = source.file.texts.get("layout", ""), reopened.order
    beside = "" if order is None or Path(order.layout).is_absolute() else order.layout
    try:
        if beside not in ("", *reopened.outdated) and (there := source.file.path.parent / beside).is_file():
            return load_layout(there)
        with tempfile.TemporaryDirectory() as folder:
            written = Path(folder) / "house.toml"
            written.write_text(text, encoding="utf-8", newline="")
            return load_layout(written)
    except EavesongError as fault:
        found = f"how much its supplies may give is not known here ({fault.problems[0].found})"
        raise FramesError(Problem(str(source.file.path), "", found, "Keep the layout where it was.")) from None
