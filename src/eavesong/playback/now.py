"""Frames on a house that has changed since they were made: new addresses are used, everything else is said."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from eavesong.errors import EavesongError, FramesError, LayoutError
from eavesong.files import parse_toml
from eavesong.playback.wiring import on_layout, wire
from eavesong.words import typed, visible

if TYPE_CHECKING:
    from eavesong.frames import FramesFile
    from eavesong.layout import Layout
    from eavesong.playback.source import FileSource
    from eavesong.scene import Reopened, Terms


POINTS = '"points"'
"""The shape in a layout whose places stand in a file of their own."""


def takes(
    source: FileSource, layout: Layout, house: str, again: str, *, allow_public: bool = False, rehearsal: bool = False
) -> str:
    """Have frames sent to the addresses that ``layout`` has now; what people have to know of it, empty for nothing.

    Frames whose pixels or universes the layout has otherwise go out as they were made. house: what people call the
    layout; again: the command that renders anew; rehearsal: all is sent elsewhere, so that no address is told. Raises
    FramesError where nothing may be sent to an address that it has, or where it names no controller any more.
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
    places = ", ".join(f"{controller} at {address}" for controller, address in moved.items() if controller)
    told = [] if rehearsal else [f"frames are sent where '{house}' has its controllers now: {places}"]
    if _otherwise(source.file, layout):
        told.append(f"'{house}' has changed otherwise, too, since the frames were made. Render them again: {again}")
    return "; ".join(told)


def _otherwise(frames: FramesFile, layout: Layout) -> bool:
    """Whether a layout has changed in more than what its controllers are called and their addresses since these frames
    were made. Of points files the places are compared, which is what frames come from."""
    pixels = layout.pixels
    places = np.stack([pixels.X, pixels.Y, pixels.Z], axis=1).astype(np.float32)
    if not np.array_equal(places, frames.metres):
        return True
    return _without_addresses(frames.texts.get("layout", "")) != _without_addresses(layout.text)


def _without_addresses(text: str) -> dict[str, Any]:
    """What a layout's text says, but for the names and addresses of its controllers."""
    try:
        tables = parse_toml(text, "layout", FramesError)
    except FramesError:  # of frames that are damaged: nothing is as it was
        return {}
    boxes = tables.get("controller", ())
    names = []
    for box in boxes if isinstance(boxes, list) else (boxes,):
        if isinstance(box, dict):
            names.append(box.pop("name", None))
            box.pop("address", None)
    for supply in tables.get("supply", ()):
        for feed in supply.get("feed", ()) if isinstance(supply, dict) else ():
            if isinstance(feed, dict) and feed.get("controller") in names:
                feed["controller"] = names.index(feed["controller"])
    return tables


def as_it_is(source: FileSource, *, allow_public: bool = False, rehearsal: bool = False) -> list[str]:
    """As ``takes``, with the layout that a single frames file was made from, where that is there; and what is to be
    said of whatever else it was made from and is another by now. A file that does not tell that changes nothing."""
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
    told = [f"these frames are not all of it: {order.part}"] if order.part else []
    told.append(changed_since(source, again))
    if order.layout in outdated or _has_points(reopened, order.layout):
        try:
            now = load_layout(folder / order.layout)
            told.append(takes(source, now, layout, again, allow_public=allow_public, rehearsal=rehearsal))
        except LayoutError as fault:
            told.append(unread(layout, fault, rehearsal=rehearsal))
    return [word for word in told if word]


def _has_points(reopened: Reopened, layout: str) -> bool:
    """Whether a layout that is as it was takes its pixels' places from files beside it, which may be others by now."""
    path = reopened.frames.path.parent / layout
    return not Path(layout).is_absolute() and path.is_file() and POINTS in reopened.frames.texts.get("layout", "")


def unread(house: str, fault: LayoutError, *, rehearsal: bool) -> str:
    """That the layout cannot be read that says where frames go now."""
    go = "" if rehearsal else ", so frames go where they were made for"
    return f"'{house}' cannot be read{go}: {fault}"


def changed_since(source: FileSource, again: str) -> str:
    """That the show of frames, effects of its own, or the texts beside their song were changed since they were made;
    empty where none was, or none is there. again: the command that renders anew."""
    from eavesong.scene import Reopened

    reopened = Reopened(source.file)
    try:
        order, outdated = reopened.order, reopened.outdated
    except EavesongError:
        return ""
    changed = [path for path in outdated if order is not None and path != order.layout]
    if not changed:
        return ""
    named = [f"'{visible(str(_plain(reopened.frames.path.parent / path)))}'" for path in changed]
    were = f"{named[0]} was" if len(named) == 1 else f"{', '.join(named[:-1])} and {named[-1]} were"
    return f"{were} changed after these frames were made, which go out as they were. Render: {again}"


def _made_for(source: FileSource) -> str:
    """The name of the layout's file that frames were made for; empty where they do not tell."""
    from eavesong.scene import Reopened

    try:
        order = Reopened(source.file).order
    except EavesongError:
        return ""
    return Path(order.layout).name if order is not None else ""


def rendering_again(source: FileSource, layout: str = "", out: str = "", asked: Terms | None = None) -> str:
    """The command that renders a frames file again, as it was asked for, or on the terms ``asked``; layout: for which
    house, else for that of the frames; out: into another file."""
    from eavesong.scene import Reopened, Terms

    reopened = Reopened(source.file)
    order, folder, terms = reopened.order, reopened.frames.path.parent, asked or reopened.terms
    if order is None:
        layout = layout or "HOUSE.toml"
        return f"eavesong render … --layout {typed(layout)} --out {out or typed(reopened.frames.path)}"
    layout = layout or visible(str(_plain(folder / order.layout)))
    song = f" --song {typed(visible(str(_plain(folder / order.song))))}" if order.song else ""
    on = "".join(f" --limit {typed(visible(each))}" for each in terms.limit) + (" --soften" if terms.soften else "")
    on += "".join(f" --props {typed(visible(each))}" for each in terms.props)
    on += "" if terms.frame_rate == Terms().frame_rate else f" --fps {terms.frame_rate:g}"
    span = f" --from {terms.start:.10g}" if terms.start else ""
    span += f" --to {terms.stop:.10g}" if terms.stop is not None else ""
    show, out = typed(visible(str(_plain(folder / order.show)))), out or typed(reopened.frames.path)
    return f"eavesong render {show} --layout {typed(layout)}{song}{span}{on} --out {out}"


def _plain(path: Path) -> Path:
    """A path without the detours of ``frames/../house.toml``."""
    return Path(os.path.normpath(path))
