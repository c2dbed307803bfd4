"""``eavesong check``: what a show will do on a house, before anything is rendered."""

from __future__ import annotations

import json
from pathlib import Path

import click

from eavesong.cli.words import next_step
from eavesong.words import typed


@click.command()
@click.argument("show", type=click.Path())
@click.option("--layout", "-l", required=True, type=click.Path(), help="The house: a layout file.")
@click.option("--song", type=click.Path(), help="Another song than the one the show names.")
@click.option("--json", "as_json", is_flag=True, help="Print the report as JSON.")
def command(show: str, layout: str, song: str | None, as_json: bool) -> None:
    """Say what every cue of SHOW lights on a house and when, how much light there is, and what stays dark.

    Ends with 0 when there is nothing to look at, 1 when there is, 3 when a file cannot be used.
    """
    from eavesong.kernels.code import load_meanwhile

    load_meanwhile()
    from eavesong.check import check, report_text
    from eavesong.scene import Order, make_scene

    click.echo("Reading, and listening to the song if there is one and it is new …", err=True)
    scene = make_scene(Order(show, layout, song))
    click.echo("Drawing some moments …", err=True)
    report = check(scene, drawn=True)
    click.echo(json.dumps(report.as_dict(), indent=2, ensure_ascii=False) if as_json else report_text(report))
    if not as_json:
        frames = typed(Path(show).with_name(Path(show).name.removesuffix(".toml").removesuffix(".show") + ".h5"))
        next_step("compute the light", f"render {typed(show)} --layout {typed(layout)} --out {frames}")
    if report.findings:
        raise click.exceptions.Exit(1)
