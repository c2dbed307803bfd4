"""``eavesong info``: what a frames file is, and whether it is whole."""

from __future__ import annotations

import json
from pathlib import Path

import click


@click.command("info")
@click.argument("path", metavar="FRAMES", type=click.Path(path_type=Path))
@click.option("--verify", is_flag=True, help="Read every frame and check it against its checksum.")
@click.option("--json", "as_json", is_flag=True, help="Write JSON, for programs.")
def command(path: Path, verify: bool, as_json: bool) -> None:
    """Show what a frames file holds: song, frames, house, size and what it was made from.

    \b
    eavesong info frost.h5
    eavesong info frost.h5 --verify
    """
    from eavesong.cli.words import tell_outdated
    from eavesong.frames import open_frames
    from eavesong.frames.summary import lines, summarise
    from eavesong.scene import Reopened
    from eavesong.words import visible

    with open_frames(path) as file:
        if verify:
            file.verify()
        reopened = Reopened(file)
        asked = reopened.terms.in_words() if reopened.told else "an older eavesong did not write it down"
        summary = summarise(file) | {"asked_for": visible(asked)}
        outdated = reopened.outdated
    if as_json:
        click.echo(json.dumps(summary | {"verified": verify}, indent=2, ensure_ascii=False))
    else:
        click.echo("\n".join(lines(summary, verified=verify)))
    tell_outdated(outdated)
