"""Frames on a house that has changed since they were made: new addresses are used, everything else is said."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

from eavesong.errors import EavesongError, LayoutError
from eavesong.playback.wiring import on_layout, wire
from eavesong.words import typed, visible

if TYPE_CHECKING:
    from eavesong.layout import Layout
    from eavesong.playback.source import FileSource
    from eavesong.scene import Terms


def takes(source: FileSource, layout: Layout, house: str, again: str, *, allow_public: bool = False) -> str:
    """Have frames sent to the addresses that ``layout`` has now; what people have to know of it, empty for nothing.

    Frames whose pixels or universes the layout has otherwise go out as they were made. house: what people call the
    layout; again: the command that renders anew. Raises FramesError where nothing may be sent to an address that it
    has, or where it names no controller any more.
    """
    if source.file.hashes.get("layout files") in (None, layout.content_hash):
        return ""
    rows = on_layout(source.file.patch, layout)
    if rows is None:
        made_for = _made_for(source)
        found = (
            f"the pixels or universes of '{house}' have changed since the frames were made, which go out as they were"
        )
        if made_for not in ("", Path(layout.path or house).name):
            found = f"the frames were made for '{made_for}', not for '{house}', and go out as they were"
        return f"{found}. Render them again: {again}"
    before = {row.controller: row.address for row in source.file.patch}
    source.wiring = wire(rows, source.file.channel_count, house, allow_public=allow_public)
    moved = {row.controller: row.address for row in rows if before.get(row.controller) != row.address}
    if not moved:
        return f"'{house}' has changed since the frames were made. Render them again: {again}"
    told = ", ".join(f"{controller} at {address}" for controller, address in moved.items() if controller)
    return f"frames are sent where '{house}' has its controllers now: {told}"


def as_it_is(source: FileSource, *, allow_public: bool = False) -> list[str]:
    """As ``takes``, with the layout that a single frames file was made from, where that is there; and what is to be
    said of a show that was changed since. A file that does not tell what it was made from changes nothing."""
    from eavesong.layout import load_layout
    from eavesong.scene import Reopened

    reopened = Reopened(source.file)
    try:
        order, outdated = reopened.order, reopened.outdated
    except EavesongError:  # a damaged text is no reason not to play
        return []
    if order is None:
        return []
    folder = reopened.frames.path.parent
    layout = visible(str(_plain(folder / order.layout)))
    again = rendering_again(source, layout)
    told = [f"these frames are not all of it: {part}"] if (part := in_part(order.terms)) else []
    told.append(show_since(source, again))
    if order.layout in outdated:
        try:
            told.append(takes(source, load_layout(folder / order.layout), layout, again, allow_public=allow_public))
        except LayoutError as fault:
            told.append(f"'{layout}' cannot be read, so frames go where they were made for: {fault}")
    return [word for word in told if word]


def show_since(source: FileSource, again: str) -> str:
    """That the show of frames was changed since they were made; empty where it was not, or is not there. again: the
    command that renders anew."""
    from eavesong.scene import Reopened

    reopened = Reopened(source.file)
    try:
        order, outdated = reopened.order, reopened.outdated
    except EavesongError:
        return ""
    if order is None or order.show not in outdated:
        return ""
    show = visible(str(_plain(reopened.frames.path.parent / order.show)))
    return f"'{show}' was changed after these frames were made, which go out as they were. Render: {again}"


def _made_for(source: FileSource) -> str:
    """The name of the layout's file that frames were made for; empty where they do not tell."""
    from eavesong.scene import Reopened

    try:
        order = Reopened(source.file).order
    except EavesongError:
        return ""
    return Path(order.layout).name if order is not None else ""


def in_part(terms: Terms) -> str:
    """Which props, and which time of the song, frames on these terms hold, in words; empty for all."""
    from eavesong.scene import Terms

    return Terms(start=terms.start, stop=terms.stop, props=terms.props).in_words()


def rendering_again(source: FileSource, layout: str, out: str = "") -> str:
    """The command that renders a frames file again for a layout, as it was asked for; ``out``: into another file."""
    from eavesong.scene import Reopened, Terms

    reopened = Reopened(source.file)
    order, folder, terms = reopened.order, reopened.frames.path.parent, reopened.terms
    if order is None:
        return f"eavesong render … --layout {typed(layout)} --out {out or typed(reopened.frames.path)}"
    song = f" --song {typed(visible(str(_plain(folder / order.song))))}" if order.song else ""
    asked = "".join(f" --limit {typed(visible(each))}" for each in terms.limit) + (" --soften" if terms.soften else "")
    asked += "".join(f" --props {typed(visible(each))}" for each in terms.props)
    asked += "" if terms.frame_rate == Terms().frame_rate else f" --fps {terms.frame_rate:g}"
    span = f" --from {terms.start:g}" if terms.start else ""
    span += f" --to {terms.stop:g}" if terms.stop is not None else ""
    show, out = typed(visible(str(_plain(folder / order.show)))), out or typed(reopened.frames.path)
    return f"eavesong render {show} --layout {typed(layout)}{song}{span}{asked} --out {out}"


def _plain(path: Path) -> Path:
    """A path without the detours of ``frames/../house.toml``."""
    return Path(os.path.normpath(path))
