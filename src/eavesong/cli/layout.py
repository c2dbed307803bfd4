"""``eavesong layout``: what is in a layout file, and a drawing of it."""

from __future__ import annotations

import click

from eavesong.cli.idle import tell_idle
from eavesong.cli.words import may_overwrite, next_step
from eavesong.words import typed


@click.command("layout")
@click.argument("file", type=click.Path())
@click.option("--draw", "drawing", type=click.Path(), metavar="OUT", help="Draw the house to an .svg or .png file.")
@click.option(
    "--view", type=click.Choice(["front", "plan"]), default="front", show_default=True,
    help="Draw it as seen from the street, or from above.",
)  # fmt: skip
@click.option("--wiring", is_flag=True, help="List for each output its props in order, and where each begins.")
@click.option("--json", "as_json", is_flag=True, help="Print the summary as JSON.")
@may_overwrite
def command(file: str, drawing: str | None, view: str, wiring: bool, as_json: bool, overwrite: bool) -> None:
    """Check a layout FILE; show its props, their tags and how they are patched."""
    import json

    from eavesong.check.house import CALLED
    from eavesong.layout import load_layout
    from eavesong.layout.summary import layout_data, summary

    if not drawing:
        tell_idle({"view": "it says how --draw sees the house"})
    if as_json:
        tell_idle({"wiring": "--json tells the wiring as well"})
    layout = load_layout(file)
    if drawing:
        from eavesong.layout.draw import save_drawing
        from eavesong.replaced import replacing

        with replacing(drawing, overwrite=overwrite, read=[file]):
            save_drawing(layout, drawing, view)
    told = json.dumps(layout_data(layout, CALLED), indent=2, ensure_ascii=False) if as_json else summary(layout, CALLED)
    if wiring and not as_json:
        from eavesong.layout.wiring import wiring_text

        told = wiring_text(layout)
    click.echo(told)
    if drawing:
        click.echo(f"Drew {drawing}.", err=True)
    if not as_json:
        next_step("a first show from a song of yours", f"draft SONG.mp3 --layout {typed(file)}")
