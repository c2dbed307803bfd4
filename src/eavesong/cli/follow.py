"""``eavesong follow``: how the light of frames follows their song, in figures and in a picture."""

from __future__ import annotations

import json
from pathlib import Path

import click

from eavesong.cli.words import may_overwrite


def _picture_name(_context: click.Context, _option: click.Parameter, path: Path | None) -> Path | None:
    if path is not None and path.suffix.lower() not in (".png", ".webp"):
        raise click.BadParameter(f"'{path.name}' is no picture. Name a file that ends with .png or .webp.")
    return path


@click.command(name="follow", short_help="Say how the light of frames follows their song.")
@click.argument("path", metavar="FRAMES", type=click.Path(path_type=Path))
@click.option("--song", type=click.Path(path_type=Path), help="The sound file; else the one beside FRAMES.")
@click.option("--picture", type=click.Path(path_type=Path), callback=_picture_name, help="Draw it: a .png or .webp.")
@click.option("--json", "as_json", is_flag=True, help="Print the figures as JSON.")
@may_overwrite
def command(path: Path, song: Path | None, picture: Path | None, as_json: bool, overwrite: bool) -> None:
    """Say how the light in FRAMES follows the song: its form, its loudness, its beats, what begins in it.

    The figures tell of dullness and of slips, not of beauty.
    """
    from eavesong.follow import follow, follow_picture, follow_text
    from eavesong.frames import open_frames
    from eavesong.replaced import replacing
    from eavesong.scene.reopen import is_another_song

    with replacing(picture, overwrite=overwrite, read=(path, song)):
        with open_frames(path) as frames:
            followed = follow(frames, song)
            other = song is not None and is_another_song(frames, song)
        if picture is not None:
            from eavesong.preview import save_picture

            save_picture(follow_picture(followed), picture)
    if song is not None and other:
        click.echo(f"'{song.name}' is not the file that these frames were made to.", err=True)
    if as_json:
        click.echo(json.dumps(followed.figures.as_dict(), indent=2, ensure_ascii=False))
    else:
        click.echo(follow_text(followed.figures))
