"""The page: one HTML file that plays a show offline, with everything it needs inside.

The page's own code stands in ``page_files``; here its data is gathered and put in.
"""

from __future__ import annotations

import io
import json
import re
import zlib
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from eavesong.files import content_hash
from eavesong.preview.outlook import Outlook
from eavesong.preview.pack import Pack, as_text, pack
from eavesong.preview.photo import small_jpeg
from eavesong.preview.subject import subject_of
from eavesong.scene.reopen import Reopened
from eavesong.scene.sight import Sight
from eavesong.words import clock_text, song_and_show, visible

if TYPE_CHECKING:
    from eavesong.scene.place import PlacedCue

FILES = Path(__file__).parent / "page_files"
SCRIPTS = (
    "decode.js",
    "camera.js",
    "glare.js",
    "ground.js",
    "light.js",
    "plain.js",
    "behind.js",
    "stage.js",
    "clock.js",
    "ribbon.js",
    "remarks.js",
    "words.js",
    "desk.js",
    "hands.js",
    "main.js",
)

PARTS = {"wiring": "universes, slots, controllers", "cues": "the list of cues", "names": "names and tags of props"}
"""What a page can be made without."""


@dataclass(frozen=True)
class PageReader:
    """Whom a page is for, and what it keeps from them."""

    name: str = ""
    date: str = ""
    without: frozenset[str] = frozenset()
    """Some of PARTS. The page does not hold what it does not show."""
    song: str = ""
    """What the song is called, where its file's name does not say it well."""


LARGEST = 12_000_000
"""Bytes of a page without its song."""
ROOM = 0.975
"""Share of what is left of that for the frames: their text is some 1.6 % longer than they are."""
GLOW_COLUMNS = 480
"""Moments of the ribbon's light."""


def write_page(
    source: Reopened,
    path: str | Path,
    *,
    song: Path | None = None,
    photo: Path | None = None,
    sight: Sight | None = None,
    reader: PageReader = PageReader(),
    warning: str = "",
    largest: int = LARGEST,
    say: Callable[[str], None] = lambda step: None,
) -> Pack:
    """Write the page of a frames file to ``path``, whole or not at all; how the frames were packed is returned.

    song: the sound, which is put in compressed. photo: a picture of the house. sight: where it is seen from, as
    the layout says where not given. reader: whom the page is for. warning: what people are to be
    told before the show begins; empty for nothing. largest: bytes the page may have without the song.
    """
    from eavesong.files import write_whole
    from eavesong.preview.sound import KIND, packed_song

    look = Outlook(subject_of(source), photo=photo, sight=sight)
    picture = small_jpeg(look.photo) if look.photo else b""
    fixed = {
        "style": (FILES / "style.css").read_bytes(),
        "script": _script(),
        "places": as_text(zlib.compress(_places(source).tobytes(), 9)),
        "photo": as_text(picture),
    }
    known = sum(map(len, fixed.values())) + (FILES / "page.html").stat().st_size
    about = _kept_from(reader, _about(source, KIND if song is not None else "", look, warning))
    say("Packing the frames" if song is None else "Packing song and frames")
    with ThreadPoolExecutor(1) as beside:  # sound is encoded by one processor, frames are read one after the other
        sounding = beside.submit(packed_song, song) if song is not None else None
        packed = pack(source, int((largest - known - len(_json(about)) - 40_000) * ROOM))
        sound = sounding.result()[0] if sounding else b""
    streams = [as_text(stream) for stream in packed.streams]
    about |= _of_pack(source, packed, [len(stream) for stream in streams], _part(source, reader))
    fixed |= {
        "title": _ascii(escape(_title(source, reader))), "subtitle": _ascii(_subtitle(source, reader)),
        "client": _ascii(_client(reader)),
        "about": _json(about), "frames": b"".join(streams), "song": as_text(sound),
    }  # fmt: skip
    write_whole(path, _filled((FILES / "page.html").read_bytes(), fixed))
    return packed


def _script() -> bytes:
    """The page's modules as one script, for a page that opens from disk: there a browser loads no modules."""
    text = b"\n".join((FILES / name).read_bytes() for name in SCRIPTS)
    joined = re.sub(rb"^import .*\n|^export ", b"", text, flags=re.MULTILINE)
    return b'(() => {\n"use strict";\n' + joined + b"})();\n"


def _filled(template: bytes, parts: dict[str, bytes]) -> bytes:
    """The template with ``{{name}}`` replaced; what is put in is not looked into again."""
    out = io.BytesIO()
    while (begin := template.find(b"{{")) >= 0:
        end = template.index(b"}}", begin)
        out.write(template[:begin])
        out.write(parts[template[begin + 2 : end].decode()])
        template = template[end + 2 :]
    out.write(template)
    return out.getvalue()


def _ascii(text: str) -> bytes:
    return text.encode("ascii", "xmlcharrefreplace")


def _json(tables: dict[str, Any]) -> bytes:
    """JSON that can stand in a script element."""
    return json.dumps(tables, separators=(",", ":")).replace("<", "\\u003c").encode("ascii")


def _title(source: Reopened, reader: PageReader = PageReader()) -> str:
    title, song = source.frames.title, reader.song
    if song and song.casefold() == title.casefold():  # a drafted show is called as the file is
        return song
    return song_and_show(title, song or source.frames.song) or "A show"


def _subtitle(source: Reopened, reader: PageReader) -> str:
    frames = source.frames
    stem = Path(frames.song).stem.replace("-", " ").replace("_", " ") if frames.song else ""
    song = reader.song or stem
    words = [source.house_title, f"to “{song}”" if song else "", f"{len(source.metres):,} lights"]
    return escape(" · ".join(word for word in (*words, _part(source, reader)) if word))


def _part(source: Reopened, reader: PageReader) -> str:
    """Which props and which time of the song the frames hold, in words; empty for all."""
    frames, props = source.frames, source.terms.props
    only = "only some of its props" if "names" in reader.without else f"only {', '.join(map(visible, props))}"
    begins, ends = frames.start > 0, source.end < frames.song_seconds - 1e-6
    time = f"only {clock_text(frames.start, 1)} to {clock_text(source.end, 1)}" if begins or ends else ""
    return " · ".join(filter(None, (only if props else "", time)))


def _client(reader: PageReader) -> str:
    words = [f"For {reader.name}" if reader.name else "", reader.date]
    said = escape(" · ".join(word for word in words if word))
    return f'<p id="client">{said}</p>\n' if said else ""


def _kept_from(reader: PageReader, about: dict[str, Any]) -> dict[str, Any]:
    """What a page tells, without what it keeps from its reader."""
    hidden: dict[str, Any] = {}
    if "wiring" in reader.without:
        hidden["patch"] = []
    if "cues" in reader.without:
        hidden["cues"] = []
    if "names" in reader.without:
        hidden["props"] = []
    return about | hidden


def _places(source: Reopened) -> NDArray[np.uint16]:
    """Places in steps of a 65,535th of what they span along each axis, axis by axis."""
    low, size = _span(source)
    return np.round((source.metres.astype(np.float64) - low) / np.maximum(size, 1e-9) * 65535).astype("<u2").T.copy()


def _span(source: Reopened) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    metres = source.metres.astype(np.float64)
    return metres.min(axis=0), np.ptp(metres, axis=0)


def _about(source: Reopened, audio: str, look: Outlook, warning: str) -> dict[str, Any]:
    """Everything about the show but its frames."""
    frames, grid = source.frames, source.grid
    low, size = _span(source)
    names = {row.name: index for index, row in enumerate(frames.props)}
    return {
        "of": _of(source),
        "pixels": len(source.metres), "low": _rounded(low), "size": _rounded(size), "box": _rounded(source.box),
        "seconds": round(max(frames.song_seconds, source.end), 4), "start": frames.start, "end": source.end,
        "beats": [round(time, 3) for time in grid.times] if grid else [],
        "bars": [round(time, 4) for time in grid.downbeats] if grid else [],
        "sections": [[part.start, part.end, part.label] for part in grid.sections] if grid else [],
        "props": [[row.name, row.first_pixel, row.pixel_count, list(row.tags), row.shape] for row in frames.props],
        "patch": [[names.get(row.prop, -1), row.first_pixel, row.pixel_count, row.universe, row.slot, row.channel_count,
                   row.controller, row.output] for row in frames.patch],
        "cues": _cues(source),
        "sight": look.told(),
        "audio": audio, "photo": look.photo is not None, "warning": warning,
    }  # fmt: skip


def _of(source: Reopened) -> list[str]:
    """By what a page of this song and house is known again, whatever version of the show it plays, and what people call
    it: files called house.toml are told apart by their folders."""
    house = "/".join(Path(source.order.layout).parts[-2:]) if source.order is not None else ""
    mark = content_hash(house, source.house_title, source.frames.song)[:12]
    return [mark, ", ".join(filter(None, (_title(source), source.house_title)))]


def _cues(source: Reopened) -> list[dict[str, Any]]:
    """The cues, as far as the frames hold them: on the props and in the time that were rendered."""
    names = source.terms.props
    chosen = {at for at, prop in enumerate(source.layout.props) if prop.goes_by(names)} if names else None
    cues = [_cue(_within(cue, chosen, source)) for cue in source.cues]
    return [cue for cue in cues if cue["spans"] and (cue["props"] or chosen is None)]


def _within(cue: PlacedCue, chosen: set[int] | None, source: Reopened) -> PlacedCue:
    """A cue on the ``chosen`` props alone, all where None, in the time that the frames hold."""
    start, end = source.frames.start, source.end
    spans = tuple(
        replace(span, start=max(span.start, start), end=min(span.end, end))
        for span in cue.spans
        if span.start < end and span.end > start
    )
    if chosen is None:
        return replace(cue, spans=spans)
    rendered = np.isin(source.layout.pixels.prop, list(chosen))
    props = tuple(prop for prop in cue.props if prop in chosen)
    return replace(cue, spans=spans, props=props, weight=np.where(rendered, cue.weight, 0))


def _cue(cue: Any) -> dict[str, Any]:
    lit = np.flatnonzero(np.diff(np.concatenate([[0], (cue.weight > 0).astype(np.int8), [0]])))
    name = cue.name.partition(" '")[2].removesuffix("'") or cue.name
    return {
        "name": name, "effect": cue.effect.title, "props": list(cue.props), "pixels": int((cue.weight > 0).sum()),
        "runs": [[int(begin), int(end - begin)] for begin, end in lit.reshape(-1, 2)],
        "spans": [[round(span.start, 3), round(span.end, 3)] for span in cue.spans],
    } | ({"darkens": 1} if cue.does == "darkens" else {})  # fmt: skip


def _of_pack(source: Reopened, packed: Pack, lengths: Sequence[int], part: str) -> dict[str, Any]:
    """What the page needs to know to unpack frames, and what it tells people about them."""
    ends = np.cumsum(lengths).tolist()
    every = packed.fidelity.every
    exact = "exactly as they are played"
    if packed.fidelity.luma:
        exact = f"to the nearest of {round(255 / packed.fidelity.luma)} steps of brightness"
    rate = source.frames.frame_rate / every
    return {
        "rate": rate, "frames": packed.frame_count, "chunkFrames": packed.chunk_frames,
        "fidelity": {"luma": packed.fidelity.luma, "chroma": packed.fidelity.chroma}, "steps": list(packed.steps),
        "streams": [[end - length, end] for end, length in zip(ends, lengths, strict=True)],
        "notes": (f"A part of the show: {part}. The rest was not made, and is dark. " if part else "")
        + f"{len(source.metres):,} lights, {rate:g} frames a second; colours are shown {exact}. "
        "Made with eavesong. The file needs no network.",
        "glow": glow_of(source),
    }  # fmt: skip


def glow_of(source: Reopened) -> list[list[int]]:
    """The mean colour of the house at moments of the song, evenly spaced, as square roots of light 0..255."""
    count = source.frames.frame_count
    moments = np.unique(np.linspace(0, count - 1, min(count, GLOW_COLUMNS)).astype(int))
    roots = [255 * np.sqrt((source.light(at, at + 1)[0] / 255.0).mean(axis=0)) for at in moments]
    return [[int(channel) for channel in np.round(colour)] for colour in roots]


def _rounded(values: NDArray[np.float64]) -> list[float]:
    return [round(float(value), 4) for value in values]
