"""``eavesong align``: the beats of one file for another copy of the same song."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

PATH: Any = click.Path(path_type=Path)


@click.command(short_help="Take a beats text from one copy of a song to another.")
@click.argument("beats", type=PATH)
@click.option("--from", "source", required=True, type=PATH, help="The file the beats are of.")
@click.option("--to", "copy", required=True, type=PATH, help="The other copy of the song.")
@click.option(
    "--out", "-o", type=PATH, help="Write the beats there; beside the other copy, called like it, if not given."
)
@click.option("--anyway", is_flag=True, help="Place the bars even where this seems to be another song.")
@click.option("--overwrite", is_flag=True, help="Replace a file that is there.")
def command(beats: Path, source: Path, copy: Path, out: Path | None, anyway: bool, overwrite: bool) -> None:
    """Write BEATS, made for one file, for another copy of the song: trimmed, cut, or running at another speed.

    Texts of sections and events that lie beside BEATS, called like it, are taken along. With --overwrite BEATS itself
    may be replaced, where another master has taken the place of the song.

    Ends with 0 when all is well, 1 when it is not sure or bars have other numbers there, 3 when it is another song.

    \b
    eavesong align a.beats --from one.flac --to other.mp3
    """
    from eavesong.cli.unpack import tell_found
    from eavesong.exchange import find, trace_of
    from eavesong.exchange.place import Carried, placed_events
    from eavesong.music import read_events, read_grid, write_beats, write_events, write_sections
    from eavesong.music.sound import sound_hash
    from eavesong.replaced import replacing

    out = out or copy.with_name(f"{copy.stem}.beats")
    own = {part: beats.with_suffix(f".{part}") for part in ("sections", "events")}
    texts = {part: path for part, path in own.items() if beats.suffix == out.suffix == ".beats" and path.is_file()}
    targets = {part: out.with_suffix(f".{part}") for part in texts}
    in_place = overwrite and out.exists() and beats.exists() and out.samefile(beats)
    read = (source, copy) if in_place else (beats, *texts.values(), source, copy)
    with replacing(out, *targets.values(), overwrite=overwrite, read=read):
        trace = trace_of(source)
        grid = read_grid(beats, texts.get("sections"), trace.seconds)
        events = read_events(texts["events"]) if "events" in texts else None
        found = find(trace, grid, copy, anyway=anyway)
        digest = sound_hash(copy)
        write_beats(out, found.grid, digest)
        if "sections" in texts:
            write_sections(targets["sections"], found.grid, digest)
        if events is not None and found.alignment is not None:
            write_events(targets["events"], placed_events(events, found.alignment), digest)
    tell_found(found)
    click.echo(f"Wrote {found.grid.beat_count} beats to {out}.")
    for part, target in targets.items():
        click.echo(f"Wrote the {part} beside them, {texts[part].name}, to {target}.")
    elsewhere = Carried(grid, found.grid, found.alignment).bars_elsewhere() if found.alignment else []
    if elsewhere:
        bar, now = elsewhere[0]
        click.echo(
            f"Bars have other numbers there: bar {bar} is bar {now:g}{', and so on' if len(elsewhere) > 1 else ''}. "
            "Take a show that counts bars or beats along with 'eavesong pack' and 'eavesong unpack'."
        )
    if found.sure != "sure" or elsewhere:
        raise click.exceptions.Exit(1)
