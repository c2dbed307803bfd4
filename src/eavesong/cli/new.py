"""``eavesong new``: a starter house, show and setlist."""

from __future__ import annotations

from pathlib import Path

import click

LONGEST = click.FloatRange(0.5, 1000)
FEW = click.IntRange(0, 50)


@click.command(name="new")
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--title", default="Our house", show_default=True, help="What the house is called.")
@click.option("--units", type=click.Choice(["m", "ft"]), default="m", show_default=True, help="Unit of all lengths.")
@click.option("--width", type=LONGEST, help="Of the house.  [default: 10 m or 33 ft]")
@click.option("--height", type=LONGEST, help="To the ridge.  [default: 6 m or 20 ft]")
@click.option("--windows", type=FEW, default=2, show_default=True, help="How many are framed.")
@click.option("--trees", type=FEW, default=1, show_default=True, help="How many stand in the garden.")
@click.option("--arches", type=FEW, default=3, show_default=True, help="How many stand along the front.")
@click.option("--song", default="song.flac", show_default=True, help="How the song's file will be called.")
def command(
    folder: Path, title: str, units: str, width: float | None, height: float | None, windows: int, trees: int,
    arches: int, song: str,
) -> None:  # fmt: skip
    """Write a house, a show and a setlist into FOLDER, to be changed line by line. Nothing there is overwritten."""
    from eavesong.demo.starter import HOUSE, SETLIST, SHOW, Answers, make_starter

    usual = {"m": (10.0, 6.0), "ft": (33.0, 20.0)}[units]
    answers = Answers(title, units, width or usual[0], height or usual[1], windows, trees, arches, song)
    make_starter(folder, answers)
    click.echo(f"In {folder}/:")
    click.echo(f"  {HOUSE:<17}the house: change the numbers to what you measure")
    click.echo(f"  {SHOW:<17}the show: five cues to begin with")
    click.echo(f"  {SETLIST:<17}when it is played")
    click.echo(f"\nPut the song there as {song}, then:")
    click.echo(f"  eavesong layout {folder / HOUSE} --draw house.png")
    click.echo(f"  eavesong check {folder / SHOW} --layout {folder / HOUSE}")
