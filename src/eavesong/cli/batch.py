"""``eavesong batch``: all songs of a setlist, rendered unattended."""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path

import click

MOST_FOLDERS = 6
"""Folders of pages that are named one by one."""


@click.command(name="batch", short_help="Render all songs of a setlist, on one machine or several.")
@click.argument("setlist", type=click.Path(path_type=Path))
@click.option("--workers", "-w", type=click.IntRange(1, 256), help="Processes; as many as processors if not given.")
@click.option("--cluster", metavar="ADDRESS", help="A Dask scheduler, such as tcp://192.0.2.10:8786.")
@click.option("--fall-back-local", is_flag=True, help="Go on here when the scheduler is lost on the way.")
@click.option("--force", is_flag=True, help="Render again what is up to date.")
@click.option("--overwrite", is_flag=True, help="Replace files that eavesong did not write, too.")
@click.option("--report", type=click.Path(path_type=Path), help="The JSON report; else SETLIST with .report.json.")
@click.option("--ignore-space", is_flag=True, help="Begin even if the disk looks too small.")
@click.option("--quiet", "-q", is_flag=True, help="Print nothing but errors.")
def command(
    setlist: Path,
    workers: int | None,
    cluster: str | None,
    fall_back_local: bool,
    force: bool,
    overwrite: bool,
    report: Path | None,
    ignore_space: bool,
    quiet: bool,
) -> None:
    """Render every song of SETLIST for each of its houses; skip what is up to date.

    Everything is checked first. A song that fails does not stop the others. Killed and run again, it goes on where
    it was. Ends with 0 when all is well, 1 when a song failed, something grave was found, or the look between the
    songs cannot be shown as it is meant; 3 or 4 when nothing could be begun.
    """
    from eavesong.files import write_whole
    from eavesong.replaced import replacing
    from eavesong.season import run_batch
    from eavesong.season.idle import idle_outdated
    from eavesong.season.moved import report_of
    from eavesong.season.named import doubts
    from eavesong.season.report import batch_dict, batch_text, failed_lines, left_over
    from eavesong.season.setlist import load_setlist

    live = sys.stdout.isatty() and not quiet
    written = report or report_of(setlist)
    if not quiet:
        asked = load_setlist(setlist)
        for line in (*doubts(asked), *idle_outdated(asked)):
            click.echo(line, err=True)
    with replacing(written, overwrite=overwrite, read=[setlist]):
        finished = run_batch(
            setlist, workers=workers, cluster=cluster, fall_back_local=fall_back_local, again=force,
            overwrite=overwrite, ignore_space=ignore_space, say=None if quiet else click.echo, live=live,
        )  # fmt: skip
        left_behind = left_over(written, finished)
        if quiet:
            for line in (*failed_lines(finished), *finished.idle):
                click.echo(line, err=True)
        else:
            pages = sorted({str(Path(outcome.page).parent) for outcome in finished.outcomes if outcome.page})
            if len(pages) > MOST_FOLDERS:
                pages = [f"in {len(pages)} folders below {os.path.commonpath(pages)}"]
            click.echo(f"\n{batch_text(finished)}\nAll of it is in {written}.")
            if pages:
                click.echo(f"Pages to open in a browser: {', '.join(pages)}.")
            for file in left_behind:
                click.echo(f"Left from earlier, and made no longer: {file}. Delete it, so that nobody plays it.")
        write_whole(written, json.dumps(batch_dict(finished, left_behind), indent=2, ensure_ascii=False) + "\n")
    if not finished.all_well:
        raise click.exceptions.Exit(1)
