"""``eavesong align``: the texts of one file for another copy of the same song."""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from eavesong.words import clock_text

if TYPE_CHECKING:
    from eavesong.exchange.aligned import Alignment
    from eavesong.music import BeatGrid

PATH: Any = click.Path(path_type=Path)


TEXTS = (".beats", ".sections", ".events")
HEARD = 0.05
"""Seconds by which light that is told by the clock may be away from what it is to fall on."""


@click.command(short_help="Take a song's texts from one copy of it to another.")
@click.argument("text", metavar="TEXT", type=PATH)
@click.option("--from", "source", required=True, type=PATH, help="The file the text is of.")
@click.option("--to", "copy", required=True, type=PATH, help="The other copy of the song.")
@click.option(
    "--out", "-o", type=PATH, help="Write the text there; beside the other copy, called like it, if not given."
)
@click.option("--anyway", is_flag=True, help="Place the bars even where this seems to be another song.")
@click.option("--overwrite", is_flag=True, help="Replace a file that is there.")
def command(text: Path, source: Path, copy: Path, out: Path | None, anyway: bool, overwrite: bool) -> None:
    """Write TEXT, the beats, sections or events of one file, for another copy of the song: trimmed, cut, or running at
    another speed.

    Texts of the other kinds that lie beside TEXT, called like it, are taken along; where there are no beats, those
    heard in the song count. With --overwrite TEXT itself may be replaced, where another master has taken the place of
    the song; what was in it is kept beside --from.

    Ends with 0 when all is well, 1 when it is not sure or bars have other numbers there, 3 when it is another song.

    \b
    eavesong align a.beats --from one.flac --to other.mp3
    """
    from eavesong.cli.unpack import tell_found
    from eavesong.exchange import find, trace_of
    from eavesong.exchange.place import Carried, placed_events
    from eavesong.music import read_events, write_beats, write_events, write_sections
    from eavesong.music.sound import sound_hash
    from eavesong.replaced import replacing

    out = out or copy.with_suffix(text.suffix if text.suffix in TEXTS else ".beats")
    texts, targets = _texts(text, out)
    if in_place := out.exists() and text.exists() and out.samefile(text):
        _refuse_in_place(out, overwrite)
    read = (source, copy) if in_place else (*texts.values(), source, copy)
    with replacing(*targets.values(), overwrite=overwrite, read=read):
        doubt = _doubt(texts, source, copy)
        trace = trace_of(source)
        grid = _grid_of(source, texts, trace.seconds)
        events = read_events(texts[".events"]) if ".events" in texts else None
        found = find(trace, grid, copy, anyway=anyway)
        digest = sound_hash(copy)
        aside = _put_aside(texts, source) if in_place else []
        if ".beats" in texts:
            write_beats(targets[".beats"], found.grid, digest)
        if ".sections" in texts:
            write_sections(targets[".sections"], found.grid, digest)
        if events is not None and found.alignment is not None:
            write_events(targets[".events"], placed_events(events, found.alignment), digest)
    tell_found(found)
    if doubt:
        click.echo(doubt)
    for kind, target in targets.items():
        told = f"{found.grid.beat_count} beats" if kind == ".beats" else f"the {kind[1:]} of {texts[kind].name}"
        click.echo(f"Wrote {told} to {target}.")
    if aside:
        names = ", ".join(str(path) for path in aside)
        click.echo(f"The texts as they were lie beside {source.name} now, for 'eavesong pack --song': {names}.")
    elsewhere = Carried(grid, found.grid, found.alignment).bars_elsewhere() if found.alignment else []
    _tell_elsewhere(elsewhere, found.alignment)
    if found.sure != "sure" or elsewhere or doubt:
        raise click.exceptions.Exit(1)


def _tell_elsewhere(bars: Sequence[tuple[int, float]], found: Alignment | None) -> None:
    """Say which bars of the song have other numbers in the copy; where none has, which seconds are others."""
    if bars:
        bar, now = bars[0]
        click.echo(
            f"Bars have other numbers there: bar {bar} is bar {now:g}{', and so on' if len(bars) > 1 else ''}. "
            "Take a show that counts bars or beats along with 'eavesong pack' and 'eavesong unpack'."
        )
    elif found and (shift := _shift(found)):
        second, now = shift
        click.echo(
            f"Seconds are others there: {clock_text(second)} is {clock_text(now)}. Take a show with 'times' along with "
            "'eavesong pack' and 'eavesong unpack'."
        )


def _shift(found: Alignment) -> tuple[float, float] | None:
    """A second of the song and where it is in its copy, where that is another one."""
    known = [pair for piece in found.pieces if piece.line
             for pair in zip(piece.source(), (piece.begin, piece.end), strict=True)]  # fmt: skip
    return next(((second, now) for second, now in known if abs(now - second) > HEARD), None)


def _texts(text: Path, out: Path) -> tuple[dict[str, Path], dict[str, Path]]:
    """The texts that are taken along, and where they are written, by their kinds; one of no known name is of beats."""
    if text.suffix not in TEXTS or out.suffix != text.suffix:
        kind = text.suffix if text.suffix in TEXTS else ".beats"
        return {kind: text}, {kind: out}
    texts = {kind: path for kind in TEXTS if (path := text.with_suffix(kind)) == text or path.is_file()}
    return texts, {kind: out.with_suffix(kind) for kind in texts}


def _doubt(texts: dict[str, Path], source: Path, copy: Path) -> str:
    """That a text says it was written for another file than ``source``; empty where it does not. Raises BeatsError
    where it was for the ``copy``."""
    from eavesong.errors import BeatsError, Problem
    from eavesong.files import read_text
    from eavesong.music.made_for import made_for
    from eavesong.music.sound import sound_hash

    told = {made_for(read_text(path, BeatsError)): path for path in texts.values()}
    told.pop("", None)
    told.pop(sound_hash(source), None)
    if path := told.get(sound_hash(copy)):
        advice = f"Were --from and --to exchanged? --from is the file that {path.name} is of."
        raise BeatsError(Problem(str(path), "", f"was written for '{copy.name}', to which it is to be carried", advice))
    return "".join(f"'{path.name}' was written for another file than '{source.name}'." for path in told.values())


def _refuse_in_place(out: Path, overwrite: bool) -> None:
    """Raise OutputError where the text itself would be replaced unasked."""
    from eavesong.errors import OutputError, Problem

    if not overwrite:
        advice = "Say --overwrite to have it replaced: a text counts by its name, which is the song's."
        raise OutputError(Problem(str(out), "", "is the text that is read, and would be written anew", advice))


def _put_aside(texts: dict[str, Path], source: Path) -> list[Path]:
    """Copy texts that are to be written anew beside the file that they are of, called like it, where nothing lies: a
    show is packed with them."""
    from eavesong.errors import OutputError
    from eavesong.files import write_whole

    aside = []
    for kind, path in texts.items():
        beside = source.with_suffix(kind)
        with contextlib.suppress(OutputError, OSError):  # a folder of somebody else's: they are not needed to go on
            if not beside.exists():
                write_whole(beside, path.read_text(encoding="utf-8"))
                aside.append(beside)
    return aside


def _grid_of(source: Path, texts: dict[str, Path], seconds: float) -> BeatGrid:
    """The beats of ``source`` in its texts; where there are none of beats, those heard in it."""
    from eavesong.music import beats_for, read_grid

    if ".beats" in texts:
        return read_grid(texts[".beats"], texts.get(".sections"), seconds)
    return beats_for(source, sections=texts.get(".sections"))
