"""``eavesong demo``: the whole job once."""

from __future__ import annotations

from pathlib import Path

import click

from eavesong.cli.words import may_overwrite


@click.command(name="demo", short_help="Do the whole job once, on three songs of our own.")
@click.option(
    "--out",
    "-o",
    "folder",
    type=click.Path(path_type=Path),
    default="eavesong-demo",
    show_default=True,
    help="The folder to fill.",
)
@may_overwrite
def command(folder: Path, overwrite: bool) -> None:
    """Make three songs and a house, draft a show for each song, render them; leave everything in a folder to change.

    The first time, every effect is compiled for this machine, which takes some seconds; after that it is kept.
    """
    from eavesong.demo.run import HOUSE, PAGE, SHOW, make_demo
    from eavesong.words import clock_text

    done = make_demo(folder, lambda step: click.echo(f"{step} …", err=True), overwrite=overwrite)
    click.echo(f"Open {folder / PAGE} in a browser: the house, lit, with the song.")
    click.echo(f"\n{'song':<16}{'length':>8}{'beats':>7}{'bars':>6}{'frames':>8}{'rendered in':>14}   times real time")
    for played in done:
        grid = played.song.grid
        click.echo(
            f"{played.song.title:<16}{clock_text(grid.duration, 1):>8}{grid.beat_count:>7}{grid.bar_count:>6}"
            f"{played.rendered.frame_count:>8,}{played.seconds:>12.1f} s{grid.duration / played.seconds:>12.0f}"
        )
    click.echo(f"\nIn {folder}/:")
    click.echo(f"  {PAGE:<29}that page; it needs no network")
    click.echo("  *.wav, *.beats, *.sections   the songs, and where their beats and sections are")
    click.echo(f"  {HOUSE:<29}the house, drawn in house.png and house-plan.png")
    click.echo("  *.show.toml                  the shows: one drafted for each song, to change and render again")
    click.echo(f"  {SHOW:<29}one written by hand, for any song")
    click.echo("  *.h5                         the frames every pixel plays ('eavesong info' says more)")
    click.echo("  *.png                        what that looks like from the street")
