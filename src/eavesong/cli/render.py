"""``eavesong render``: a show on a house into a frames file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from eavesong.cli.words import next_step
from eavesong.words import clock_text, typed

if TYPE_CHECKING:
    from eavesong.scene import Scene

MOST_FINDINGS = 3
"""Findings that are told one by one before rendering."""


FILMS = (".mp4", ".gif", ".webp", ".webm", ".mov", ".avi", ".mkv")
OTHERS = (".toml", ".html", ".json", ".png", ".jpg", ".zip", ".wav", ".mp3", ".flac", ".ogg", ".m4a", ".csv", *FILMS)
"""Ends of names of what are no frames."""


@click.command(name="render", short_help="Render a show on a house into a frames file.")
@click.argument("show", type=click.Path(path_type=Path))
@click.option("--layout", "-l", required=True, type=click.Path(path_type=Path), help="The house.")
@click.option("--out", "-o", required=True, type=click.Path(path_type=Path), help="The frames file to write.")
@click.option("--song", type=click.Path(path_type=Path), help="Another song than the one the show names.")
@click.option("--fps", default=40.0, show_default=True, help="Frames a second.")
@click.option("--from", "start", metavar="TIME", help="Where in the song to begin: seconds or m:ss.")
@click.option("--to", "stop", metavar="TIME", help="Where in the song to stop: seconds or m:ss.")
@click.option("--props", multiple=True, metavar="NAME", help="Only props with this name or tag; may be given again.")
@click.option(
    "--limit",
    multiple=True,
    metavar="WHAT",
    help="Dim what would draw more: supply, output:4A, house:1500W; repeatable.",
)
@click.option("--soften", is_flag=True, help="Shrink contrast where there would be over three flashes in a second.")
@click.option("--overwrite", is_flag=True, help="Replace a file of that name even if it is no frames file.")
@click.option("--workers", type=click.IntRange(1, 256), help="Threads; as many as processors if not given.")
@click.option("--quiet", "-q", is_flag=True, help="Print nothing but errors.")
def command(
    show: Path,
    layout: Path,
    out: Path,
    song: Path | None,
    fps: float,
    start: str | None,
    stop: str | None,
    props: tuple[str, ...],
    limit: tuple[str, ...],
    soften: bool,
    overwrite: bool,
    workers: int | None,
    quiet: bool,
) -> None:
    """Render SHOW on a house: the bytes that every pixel plays, frame by frame, in one file.

    The file is written whole or not at all. Neither the number of workers nor the range asked for changes a byte.
    """
    from eavesong.cli.words import bar_of_progress, seconds_of
    from eavesong.heap import one_heap
    from eavesong.kernels.code import load_meanwhile
    from eavesong.processors import processors
    from eavesong.render import Order, render
    from eavesong.scene.reopen import otherwise

    def tell(scene: Scene) -> None:
        """Print what is odd about the show before it is rendered: a few findings, and how many more there are."""
        from eavesong.check import check

        findings = check(scene, glance=not scene.terms.props).findings
        for finding in findings[:MOST_FINDINGS]:
            click.echo(str(finding), err=True)
        if findings:
            command = f"eavesong check {typed(show)} --layout {typed(layout)}"
            command += f" --song {typed(song)}" if song else ""
            click.echo(f"{len(findings)} to look at; '{command}' says all of it.", err=True)

    if out.suffix.lower() in OTHERS:
        film = "; a film is made of them by 'eavesong preview'" if out.suffix.lower() in FILMS else ""
        raise click.BadParameter(f"'{out}' is to hold frames. Let its name end with .h5{film}.", param_hint="--out")
    one_heap(workers or processors())
    load_meanwhile()
    other = _other_source(out, show, layout)
    order = Order.of(
        show, layout, song, frame_rate=fps, start=seconds_of(start, "--from"), stop=seconds_of(stop, "--to"),
        props=props, limit=limit, soften=soften,
    )  # fmt: skip
    before = otherwise(out, order.terms)
    with bar_of_progress(f"Rendering {show.name}", quiet) as progress:
        done = render(order, out, workers=workers, progress=progress, tell=None if quiet else tell, overwrite=overwrite)
    if not quiet:
        click.echo(
            f"{out}: {done.frame_count:,} frames at {done.frame_rate:g} a second, "
            f"{done.pixel_count:,} pixels, {done.cue_count} cue{'s' * (done.cue_count != 1)}"
        )
        for note in done.notes:
            click.echo(f"  {note}")
        end = (done.first_frame + done.frame_count) / done.frame_rate
        if order.stop is not None and order.stop > end + 1e-3:
            click.echo(f"  --to {stop} is after the song's end: the frames go on to {clock_text(end, 1)}", err=True)
        for difference in before:
            click.echo(f"  {difference}", err=True)
        if other:
            click.echo(f"  the frames that were there before were made from '{other}'", err=True)
        _tell_supplies(out, layout)
        next_step("a page that plays it", f"preview {typed(out)} --out {typed(out.with_suffix('.html'))}")


def _tell_supplies(out: Path, layout: Path) -> None:
    """Say which supplies the frames ask for too much; nothing is loaded for a house that has none."""
    if "supply" not in layout.read_text(encoding="utf-8-sig"):
        return
    from eavesong.frames import open_frames
    from eavesong.layout import load_layout
    from eavesong.limits import supply_findings

    with open_frames(out) as frames:
        for finding in supply_findings(load_layout(layout), frames):
            click.echo(f"  {finding}", err=True)


def _other_source(out: Path, show: Path, layout: Path) -> str:
    """The show, else the layout, that the frames were made from that are there already; empty where it is this one."""
    import os

    from eavesong.errors import EavesongError
    from eavesong.frames import open_frames
    from eavesong.scene import Reopened

    if not out.is_file():
        return ""
    try:
        with open_frames(out) as frames:
            order = Reopened(frames).order
    except EavesongError:
        return ""
    made_from = () if order is None else ((order.show, show), (order.layout, layout))
    others = (there for there, here in made_from if os.path.abspath(out.parent / there) != os.path.abspath(here))
    return os.path.normpath(out.parent / found) if (found := next(others, "")) else ""
