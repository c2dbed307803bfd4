"""``eavesong gallery``: every effect in pictures."""

from __future__ import annotations

from pathlib import Path

import click

from eavesong.cli.words import may_overwrite


@click.command(name="gallery", short_help="Make a page with pictures of every effect.")
@click.argument("names", nargs=-1, metavar="[EFFECT]...")
@click.option("--out", "-o", default="docs", show_default=True, type=click.Path(path_type=Path), help="A folder.")
@may_overwrite
def command(names: tuple[str, ...], out: Path, overwrite: bool) -> None:
    """Show every effect on two houses, as stills and loops with its parameters: effects.md and pictures/.

    With EFFECTs, only those: names, or the paths of effect files of your own.
    """
    from eavesong.demo.gallery import make_gallery

    page = make_gallery(out, lambda step: click.echo(f"{step} …", err=True), names, overwrite=overwrite)
    size = sum(picture.stat().st_size for picture in (out / "pictures").iterdir())
    click.echo(f"{page}, with {size / 1e6:.1f} MB of pictures")
