"""``eavesong pack``: a show in one small file, to hand on."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from eavesong.cli.idle import tell_idle

PATH: Any = click.Path(path_type=Path)


@click.command(short_help="Put a show into one small file to hand on, without its song.")
@click.argument("show", type=PATH)
@click.option("--out", "-o", type=PATH, help="The pack; SHOW's name with .pack.zip if not given.")
@click.option("--song", type=PATH, help="Another song than the one the show names.")
@click.option("--layout", "-l", type=PATH, help="The house on the picture; one of ours if not given.")
@click.option("--no-picture", is_flag=True, help="Leave out the picture, which takes the longest.")
@click.option("--overwrite", is_flag=True, help="Replace a file that is there.")
def command(
    show: Path, out: Path | None, song: Path | None, layout: Path | None, no_picture: bool, overwrite: bool
) -> None:
    """Pack SHOW: its text and effects, beats, sections and events, a picture, and a trace of the song.

    The song itself is never in it. Whoever unpacks it needs a copy of their own; the trace, what begins when in five
    bands, lets eavesong find the beats in that. Say who may use the show with 'licence' and 'credits' at its top.
    """
    from eavesong.exchange import pack
    from eavesong.music.strays import strays_of
    from eavesong.replaced import replacing
    from eavesong.show import load_show
    from eavesong.show.load import hear_song

    if no_picture:
        tell_idle({"layout": "it is for the picture, which --no-picture leaves out"})
    stem = show.name.removesuffix(".toml").removesuffix(".show")
    out = out or show.with_name(f"{stem}.pack.zip")
    with replacing(out, overwrite=overwrite, read=(show, song, layout)):
        packed = pack(show, out, song=song, layout=layout, picture=not no_picture)
    for name in packed.files:
        click.echo(f"  {name}")
    click.echo(f"Wrote {packed.path}: {packed.size / 1000:,.0f} kB, and nothing of the song's sound.")
    named = load_show(show).song
    if song is not None and named is not None and Path(named).name != song.name:
        click.echo(f"It is packed for '{song.name}'; the show's own song is '{Path(named).name}'.", err=True)
    for text in packed.left:
        click.echo(
            f"{text} is not in it: it does not say that it is for {song}, which was heard instead. Where it is, copy "
            f"it to {Path(song or '').with_suffix(text.suffix)} and pack again.", err=True,
        )  # fmt: skip
    if song is None:
        show_read = load_show(show)
        own, timed = hear_song(show_read)
        for stray in strays_of(own, timed.grid, show_read.beats, show_read.sections):
            click.echo(f"{stray}", err=True)
    if not packed.licence:
        click.echo('Nothing in it says who may use it: add a line like licence = "CC BY 4.0" to the show.')
