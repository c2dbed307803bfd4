"""Unpacking a show for somebody's own copy of the song: nothing is written before all of it has been read."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from eavesong.errors import OutputError, PackError, Problem
from eavesong.exchange.aligned import Alignment, align
from eavesong.exchange.archive import read_entries
from eavesong.exchange.cues import Moved, moved_cues, with_song
from eavesong.exchange.manifest import Manifest
from eavesong.exchange.place import Carried, placed_events, placed_grid
from eavesong.exchange.trace import Trace, read_trace, trace_of
from eavesong.exchange.words import describe, rounds, sureness, why
from eavesong.files import read_model, write_whole
from eavesong.leftovers import marked_folder
from eavesong.music.events import Events
from eavesong.music.grid import BeatGrid

if TYPE_CHECKING:
    from eavesong.show import Show

ANYWAY = "Give a copy of the song it was made for; if this is another recording of it, --anyway puts its bars somehow."
NEEDED = ("pack.toml", "song.beats", "song.trace")


@dataclass(frozen=True)
class Handed:
    """What is in a pack, read and checked."""

    path: str
    manifest: Manifest
    entries: dict[str, bytes]
    grid: BeatGrid
    trace: Trace
    written: Show
    """The show, read with the effects of the pack."""


@dataclass(frozen=True)
class Found:
    """Where the song of a pack, or of a beats text, is in a file, and what is sure of it."""

    alignment: Alignment | None
    """None where it is the very same file."""
    grid: BeatGrid
    """Beats and sections of this file."""
    sure: str
    """``sure``, ``likely`` or ``unsure``."""
    told: tuple[str, ...]
    """What is different, in words."""
    why: str


@dataclass(frozen=True)
class Unpacked:
    """What was unpacked and where."""

    show: Path
    files: tuple[Path, ...]
    found: Found
    cues: Moved
    licence: str
    credits: tuple[str, ...]


def read_pack(path: str | Path) -> Handed:
    """The pack at ``path``, every text in it read as if it came from a stranger. PackError and others for bad ones."""
    from eavesong.music import read_grid
    from eavesong.show import load_show

    name, entries = str(path), read_entries(path)
    if lacking := [each for each in NEEDED if each not in entries]:
        raise PackError(Problem(name, "", f"is no pack of a show: '{lacking[0]}' is not in it"))
    manifest = read_model(Manifest, _text(name, "pack.toml", entries), f"{name}, pack.toml", PackError)
    if manifest.show not in entries:
        raise PackError(Problem(name, "pack.toml", f"names the show '{manifest.show}', which is not in the pack"))
    trace = read_trace(_text(name, "song.trace", entries), f"{name}, song.trace")
    with marked_folder("pack") as folder:
        _write(folder, entries)
        sections = folder / "song.sections"
        grid = read_grid(
            folder / "song.beats", sections if entries.get("song.sections") else None, manifest.song.seconds
        )
        show = load_show(folder / manifest.show)
    return Handed(name, manifest, entries, grid, trace, show)


def find(trace: Trace, grid: BeatGrid, song: str | Path, *, anyway: bool = False) -> Found:
    """Where the song with this ``trace`` and ``grid`` is in the file ``song``.

    Raises PackError, with the reason, where it is another song, unless ``anyway``; AudioError where it cannot be read.
    """
    copy = trace_of(song)
    found = align(trace, copy, _bar(grid))
    sure = sureness(found)
    if sure == "unsure":
        if not anyway:
            raise PackError(Problem(str(song), "", f"this seems to be another song: {why(found)}", ANYWAY))
        from eavesong.exchange.retold import retold
        from eavesong.music import beats_for

        heard = beats_for(song)
        found = retold(trace, grid, copy, heard)
        return Found(
            found, placed_grid(grid, found, heard), sure, ("taken for another recording, bar by bar",), why(found)
        )
    told = describe(found, grid)
    own = None
    if any(piece.line is None and piece.seconds > _bar(grid) for piece in found.pieces):
        from eavesong.music import listen

        own = listen(song).grid
    placed = placed_grid(grid, found, own)
    told += rounds(Carried(grid, placed, found).bars_elsewhere())
    return Found(found, placed, sure, tuple(told), why(found))


def same_file(grid: BeatGrid) -> Found:
    """What there is to say of the very file a pack was made of."""
    return Found(None, grid, "sure", ("the very file it was made for",), "its bytes are the same")


def unpack(
    pack: Handed, song: str | Path, to: str | Path, *, anyway: bool = False, overwrite: bool = False
) -> Unpacked:
    """Write the show of ``pack`` to the folder ``to``, for the copy of the song at ``song``, which is copied there too.

    Nothing is replaced unless ``overwrite``. Raises PackError where it is another song, unless ``anyway``;
    AudioError where it cannot be read; OutputError where files are in the way or nothing can be written.
    """
    from eavesong.music import beats_text, events_text, sections_text
    from eavesong.music.made_for import made_for_line
    from eavesong.music.sound import sound_hash

    song, folder, manifest = Path(song), Path(to), pack.manifest
    digest = sound_hash(song)
    same, told = digest == manifest.song.sha256, made_for_line(digest)
    found = same_file(pack.grid) if same else find(pack.trace, pack.grid, song, anyway=anyway)
    text = with_song(_text(pack.path, manifest.show, pack.entries), song.name)
    text = text.replace(made_for_line(manifest.song.sha256), told)  # its seconds are told anew, too
    cues = (
        Moved(text, (), ())
        if found.alignment is None
        else moved_cues(text, Carried(pack.grid, found.grid, found.alignment), pack.written)
    )
    written: dict[str, bytes] = {
        manifest.show: cues.text.encode(),
        f"{song.stem}.beats": (told + beats_text(found.grid)).encode(),
    }
    if found.grid.sections:
        written[f"{song.stem}.sections"] = (told + sections_text(found.grid)).encode()
    if "song.events" in pack.entries and (manifest.events == "written" or _all_there(found, pack.grid)):
        events = _events(pack)
        placed = events if found.alignment is None else placed_events(events, found.alignment)
        written[f"{song.stem}.events"] = (told + events_text(placed)).encode()
    written |= {name: data for name, data in pack.entries.items() if _kept(name, manifest)}
    _refuse_standing(folder, [*written, song.name], song, overwrite)
    _write(folder, written)
    if not (folder / song.name).exists() or not (folder / song.name).samefile(song):
        _copy(song, folder / song.name)
    files = tuple(folder / name for name in [*written, song.name])
    return Unpacked(folder / manifest.show, files, found, cues, manifest.licence, manifest.credits)


def _kept(name: str, manifest: Manifest) -> bool:
    """Whether an entry is written as it is: effects, the README, the picture."""
    return name not in ("pack.toml", "song.beats", "song.sections", "song.events", "song.trace", manifest.show)


def _refuse_standing(folder: Path, names: list[str], song: Path, overwrite: bool) -> None:
    if folder.exists() and not folder.is_dir():
        raise OutputError(Problem(str(folder), "", "is not a folder", "Choose another name."))
    problems = []
    for name in dict.fromkeys(names):
        target = folder / name
        if not target.resolve().is_relative_to(folder.resolve()):
            problems.append(Problem(str(target), "", "leads out of the folder by a link", "Unpack to another folder."))
        elif target.exists() and not overwrite and not (name == song.name and target.samefile(song)):
            problems.append(
                Problem(str(target), "", "is there already", "Unpack to another folder, or say --overwrite.")
            )
    if len({name.casefold() for name in names}) < len(names):
        problems.append(Problem(str(song), "", "is called like a file of the pack", "Rename it."))
    if problems:
        raise OutputError(problems)


def _write(folder: Path, entries: dict[str, bytes]) -> None:
    for name, data in entries.items():
        target = folder / name
        _folder(target.parent)
        write_whole(target, data)


def _folder(path: Path) -> None:
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise OutputError(Problem(str(path), "", f"cannot be made: {fault.strerror or fault}")) from None


def _copy(song: Path, target: Path) -> None:
    from eavesong.files import whole_file

    with whole_file(target) as draft:
        shutil.copyfile(song, draft)


def _all_there(found: Found, grid: BeatGrid) -> bool:
    """Whether a copy, another file than the song, has nothing that the song has not: the events that were heard in that
    go along then, as another coding of the sound is heard a little otherwise."""
    pieces = found.alignment.pieces if found.alignment is not None else ()
    return bool(pieces) and all(piece.line is not None or piece.seconds < _bar(grid) for piece in pieces)


def _events(pack: Handed) -> Events:
    from eavesong.music import read_events

    with marked_folder("pack") as folder:
        (folder / "song.events").write_bytes(pack.entries["song.events"])
        return read_events(folder / "song.events")


def _text(name: str, entry: str, entries: dict[str, bytes]) -> str:
    try:
        return entries[entry].decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        raise PackError(Problem(name, f"{entry}, byte {fault.start}", "is not UTF-8 text")) from None


def _bar(grid: BeatGrid) -> float:
    """The usual length of a bar in seconds."""
    lengths = sorted(grid.beats_in_bars)
    return 60.0 / grid.tempo * lengths[len(lengths) // 2]
