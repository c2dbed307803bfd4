"""``eavesong beats``: the beats, bars and sections of a song."""

from __future__ import annotations

from pathlib import Path

import click


@click.command("beats", short_help="Show the beats, bars and sections of a song.")
@click.argument("song", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), help="Write the beats as a text: time, position in the bar.")
@click.option("--sections", type=click.Path(path_type=Path), help="Write the sections as a text: start, end, label.")
def command(song: Path, out: Path | None, sections: Path | None) -> None:
    """Show tempo, bars, metre and sections of SONG.

    Texts beside the song, called like it but ending in .beats and .sections, win over what is heard in it. Write
    them with --out and --sections, mend them by hand, and every show follows.
    """
    from eavesong.music import beats_for, describe, texts_for, write_beats, write_sections

    if not all(texts_for(song)):
        click.echo(f"Listening to {song.name} (the first song of all takes longer) …", err=True)
    grid = beats_for(song)
    sources = [Path(text).name for text in texts_for(song) if text]
    click.echo(f"song      {song.name}")
    click.echo(f"from      {' and '.join(sources) or 'listening to it'}")
    click.echo(describe(grid))
    for target in (out, sections):
        if target and target.exists() and target.samefile(song):
            raise click.BadParameter(f"{target} is the song itself. Choose another name for the text.")
    if out:
        write_beats(out, grid)
        click.echo(f"\nWrote {grid.beat_count} beats to {out}.")
    if sections:
        write_sections(sections, grid)
        click.echo(f"Wrote {len(grid.sections)} sections to {sections}.")
