"""Packing a show: everything that is its maker's to give, and nothing of the song but what begins when."""

from __future__ import annotations

import re
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from eavesong.errors import Problem, ShowError
from eavesong.exchange.archive import zipped
from eavesong.exchange.heard import heard_for
from eavesong.exchange.manifest import Manifest, PackedSong, manifest_text, readme
from eavesong.exchange.trace import trace_of, trace_text
from eavesong.files import read_text, shipped, write_whole
from eavesong.music.made_for import made_for_line
from eavesong.show import Show, load_show
from eavesong.show.model import ShowFile

HOUSE = "two-storey-2026.toml"
"""The house of the filmstrip where no other is given."""
PICTURES, RATE = 6, 4.0
"""Of the filmstrip, at most, and frames a second of which they are taken."""
Span = tuple[float, float, str]
"""From which to which second a section of that label goes."""


@dataclass(frozen=True)
class Packed:
    """What was packed."""

    path: Path
    files: tuple[str, ...]
    size: int
    """Bytes."""
    licence: str
    left: tuple[Path, ...] = ()
    """Texts of the show's own song that do not go along, as they are not for the one that was packed."""


def pack(show_path: str | Path, out: str | Path, *, song: str | Path | None = None, layout: str | Path | None = None,
         picture: bool = True) -> Packed:  # fmt: skip
    """Write the show at ``show_path`` as a pack to ``out``.

    ``song`` is used instead of the one the show names; ``layout`` is the house on the filmstrip. The same show,
    song and house give the same bytes. Raises ShowError, BeatsError, AudioError and OutputError.
    """
    from eavesong.music import beats_text, events_text, sections_text

    show = load_show(show_path)
    heard = heard_for(show, song)
    heard_in, timed = heard.path, heard.timed
    effects, text = _effects(show)
    file = ShowFile.model_validate(_tables(show.text, show.path))
    name = re.sub(r"[^\w .()+-]", "_", Path(show_path).name).strip(" .") or "show.show.toml"
    name = name if name.endswith(".toml") else f"{name}.show.toml"
    manifest = Manifest(
        format=1, title=show.title, show=name, events="written" if heard.written else "heard", licence=file.licence,
        credits=file.credits, effects=tuple(sorted(key for key in show.effects if not key.endswith(".toml"))),
        song=PackedSong(name=heard_in.stem[:200], seconds=timed.sounding.duration, sha256=timed.sounding.audio_hash),
    )  # fmt: skip
    told = made_for_line(timed.sounding.audio_hash)  # for whoever takes a text out of the pack by hand
    entries: dict[str, bytes] = {
        "README.txt": b"", "pack.toml": manifest_text(manifest).encode(), name: text.encode(), **effects,
        "song.beats": (told + beats_text(timed.grid)).encode(),
        "song.sections": (told + sections_text(timed.grid) if timed.grid.sections else "").encode(),
        "song.events": (told + events_text(heard.events)).encode(),
        "song.trace": trace_text(trace_of(heard_in)).encode(),
    }  # fmt: skip
    if picture:
        entries["filmstrip.webp"] = _filmstrip(Path(show_path), heard_in, layout or shipped("layouts") / HOUSE)
    entries["README.txt"] = readme(manifest, picture, list(entries)).encode()
    data = zipped(entries)
    write_whole(out, data)
    return Packed(Path(out), tuple(entries), len(data), file.licence, heard.left)


def _tables(text: str, name: str) -> dict[str, object]:
    from eavesong.slips import read_tables

    return read_tables(text, name, ShowError)


def _effects(show: Show) -> tuple[dict[str, bytes], str]:
    """The show's own effects by their names in the pack, and its text with these names.

    An effect below the show's folder keeps its place, any other goes to ``effects/``.
    """
    entries: dict[str, bytes] = {}
    text = show.text
    for name in sorted(key for key in show.effects if key.endswith(".toml")):
        path = Path(show.path).parent / name
        inside = re.sub(r"[^\w ./()+-]", "_", name.removeprefix("./"))
        if inside in entries or ".." in Path(inside).parts or inside.startswith("/"):
            raise ShowError(Problem(show.path, "", f"the effect '{name}' cannot be packed", "Put it beside the show."))
        if inside != name:
            text = text.replace(f'"{name}"', f'"{inside}"').replace(f"'{name}'", f"'{inside}'")
        entries[inside] = read_text(path, ShowError).encode()
    return entries, text


def _filmstrip(show: Path, song: Path, layout: str | Path) -> bytes:
    """Pictures of the show as WebP: of some sections, of each letter at least one where there is room.

    It shows what the pack holds: what people wish for their own house, colours and darkness, does not go along.
    """
    from eavesong.frames import open_frames
    from eavesong.layout import load_layout
    from eavesong.preview import filmstrip, save_picture
    from eavesong.render import Order, render_scene
    from eavesong.scene.scene import scene_of
    from eavesong.show import grid_of

    grid = grid_of(load_show(show), song)
    spans = [(part.start, part.end, part.label) for part in grid.sections] or [(0.0, grid.duration, "")]
    spans = _some_of(spans, PICTURES)
    near = [min(grid.downbeats, key=lambda time: abs(time - (start + end) / 2)) for start, end, _ in spans]
    # The picture of a moment is the frame before it, and that is of the section, too.
    moments = [max(time + 0.1, start + 1.04 / RATE) for time, (start, _, _) in zip(near, spans, strict=True)]
    house = load_layout(layout)
    plain = replace(house, palettes={}, colours={}, props=tuple(replace(prop, lit=True) for prop in house.props))
    with tempfile.TemporaryDirectory() as scratch:
        frames_path, out = Path(scratch, "frames.h5"), Path(scratch, "filmstrip.webp")
        render_scene(scene_of(load_show(show), plain, Order.of(show, layout, song, frame_rate=RATE)), frames_path)
        with open_frames(frames_path) as frames:
            save_picture(filmstrip(frames, moments, [label for _, _, label in spans]), out)
        return out.read_bytes()


def _some_of(spans: Sequence[Span], most: int) -> list[Span]:
    """Some sections, (start, end, label), in order: first of all one of each label, all through the song."""
    first = {label: start for start, _, label in reversed(spans)}
    one_each = [each for each in spans if first[each[2]] == each[0]]
    rest = [each for each in spans if each not in one_each]
    chosen = _spread(one_each, most)
    return sorted(chosen + _spread(rest, most - len(chosen)))


def _spread(spans: Sequence[Span], most: int) -> list[Span]:
    """At most so many of these, the first and the last among them, as evenly as may be."""
    if len(spans) <= most or most < 2:
        return list(spans[:most])
    return [spans[round(at * (len(spans) - 1) / (most - 1))] for at in range(most)]
