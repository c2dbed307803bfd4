"""``eavesong retarget``: what a changed house does to a show, and its frames there."""

from __future__ import annotations

import contextlib
import json
import shlex
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from eavesong.cli.idle import tell_idle
from eavesong.cli.words import next_step
from eavesong.words import typed

if TYPE_CHECKING:
    from eavesong.retarget import Retargeted


@click.command(name="retarget", short_help="Move a show to a changed house, rendering only what changed.")
@click.argument("show", type=click.Path(path_type=Path))
@click.option(
    "--from", "old", required=True, type=click.Path(path_type=Path), help="The house as it was, or frames of it."
)
@click.option("--to", "new", required=True, type=click.Path(path_type=Path), help="The house as it is now.")
@click.option("--frames", type=click.Path(path_type=Path), help="The old house's frames; unchanged props are copied.")
@click.option("--out", "-o", type=click.Path(path_type=Path), help="The frames file to write; without it, only report.")
@click.option("--report", type=click.Path(path_type=Path), help="Write the report: .html, .json or .txt.")
@click.option("--song", type=click.Path(path_type=Path), help="Another song than the one the show names.")
@click.option("--fps", default=40.0, show_default=True, help="Frames a second, where no old frames say.")
@click.option("--json", "as_json", is_flag=True, help="Print the report as JSON.")
@click.option("--overwrite", is_flag=True, help="Replace files that eavesong did not write, too.")
@click.option("--workers", type=click.IntRange(1, 256), help="Threads; as many as processors if not given.")
@click.option("--quiet", "-q", is_flag=True, help="Print nothing but errors.")
def command(
    show: Path,
    old: Path,
    new: Path,
    frames: Path | None,
    out: Path | None,
    report: Path | None,
    song: Path | None,
    fps: float,
    as_json: bool,
    overwrite: bool,
    workers: int | None,
    quiet: bool,
) -> None:
    """Say what becomes of SHOW when one house becomes another, and render it there.

    With the old frames, only props that changed are rendered; the result is the same to the byte. Ends with 0 when
    there is nothing to look at, 1 when a cue or prop is dark (before or only now) or a new prop for most of the song, a
    cue is never seen any more, something stands in, the house frame moved or the new frames flash more than three times
    in a second.
    """
    from eavesong.cli.words import bar_of_progress
    from eavesong.replaced import replacing
    from eavesong.retarget import retarget

    if not quiet and old.exists() and new.exists() and old.samefile(new):
        told = "--from and --to are one file, in which nothing can have changed. What the house was before stands in"
        click.echo(f"{told} frames that were made for it: --from {typed(frames or 'FRAMES.h5')}", err=True)
    if old.suffix.lower() == ".h5" and frames is None and out is not None:
        frames = old
    if frames is not None and out is None:
        raise click.UsageError("--frames is of use only with --out, the frames file to write.")
    if frames is not None:
        tell_idle({"fps": "frames are made as many a second as the old ones"})
    elif out is None:
        tell_idle(dict.fromkeys(("fps", "workers"), "without --out nothing is rendered"))
    kind = _kind_of(report)
    _refuse_setlist(show)
    with replacing(report, overwrite=overwrite, read=(show, old, new, frames, song, out)), _house_in(old) as old:
        with bar_of_progress(f"Retargeting {show.name}", quiet or as_json) as progress:
            done = retarget(
                show, old, new, out, frames=frames, song=song, fps=fps, workers=workers, progress=progress,
                overwrite=overwrite,
            )  # fmt: skip
        if done.rendered is not None:
            done = _with_flashes(done, new)
        if report is not None:
            _write(done, old, new, report, kind)
    if as_json:
        click.echo(json.dumps(done.report.as_dict(), indent=2, ensure_ascii=False))
    elif not quiet:
        _say(done, new)
    if done.report.needs_a_look:
        raise click.exceptions.Exit(1)


@contextlib.contextmanager
def _house_in(old: Path) -> Iterator[Path]:
    """The layout file of the house as it was; of frames one with the text that they were made from."""
    import tempfile

    from eavesong.errors import FramesError, Problem
    from eavesong.frames import open_frames
    from eavesong.scene import Reopened

    if old.suffix.lower() != ".h5":
        yield old
        return
    with open_frames(old) as file:
        text, order = file.texts.get("layout", ""), Reopened(file).order
    if not text or '"points"' in text:
        found = "names files beside its layout, which are not in it" if text else "does not hold the house's layout"
        raise FramesError(Problem(str(old), "", found, "Give the layout itself: --from OLD-HOUSE.toml"))
    with tempfile.TemporaryDirectory() as folder:
        # Told where both houses are called alike: ``frost.h5/house.toml``.
        written = Path(folder) / old.name / (Path(order.layout).name if order is not None else "house.toml")
        written.parent.mkdir()
        written.write_text(text, encoding="utf-8", newline="")
        yield written


def _with_flashes(done: Retargeted, new: Path) -> Retargeted:
    """With the grave findings on flashes in the frames that were made: none where the show says that they are meant."""
    from eavesong.frames import open_frames
    from eavesong.layout import load_layout
    from eavesong.limits.limits import flash_findings

    assert done.rendered is not None, "there are frames"
    with open_frames(done.rendered.path) as frames:
        found = flash_findings(load_layout(new), frames)
    grave = tuple(str(finding) for finding in found if not finding.warning)
    return replace(done, report=replace(done.report, flashes=grave))


def _refuse_setlist(show: Path) -> None:
    """Say which command takes a setlist."""
    from eavesong.errors import EavesongError, Problem, ShowError
    from eavesong.files import parse_toml, read_text

    try:
        tables = parse_toml(read_text(show, ShowError), str(show), ShowError)
    except EavesongError:
        return  # told when it is read as a show
    if isinstance(tables.get("song"), list) or isinstance(tables.get("house"), list):
        advice = (
            f"Write the new house into it and run: eavesong batch {shlex.quote(str(show))}. It renders what changed. "
            "To see what becomes of one show, name that show here."
        )
        raise ShowError(Problem(str(show), "", "is a setlist, and 'retarget' takes one show", advice))


def _kind_of(report: Path | None) -> str:
    kind = report.suffix.lower() if report is not None else ".txt"
    if kind not in (".html", ".json", ".txt"):
        raise click.BadParameter("End the name with .html, .json or .txt.", param_hint="--report")
    return kind


def _write(done: Retargeted, old: Path, new: Path, path: Path, kind: str) -> None:
    from eavesong.files import write_whole
    from eavesong.layout import load_layout
    from eavesong.retarget.page import retarget_page
    from eavesong.retarget.text import retarget_text

    if kind == ".html":
        text = retarget_page(done.report, load_layout(old), load_layout(new))
    elif kind == ".json":
        text = json.dumps(done.report.as_dict(), indent=2, ensure_ascii=False) + "\n"
    else:
        text = retarget_text(done.report) + "\n"
    write_whole(path, text)


def _say(done: Retargeted, new: Path) -> None:
    from eavesong.retarget.text import retarget_text

    click.echo(retarget_text(done.report))
    if done.rendered is None:
        return
    if done.misfit:
        click.echo(f"\nNo pixel was copied from the old frames, all were rendered: {done.misfit}.")
    count = f"{len(done.computed)} prop{'' if len(done.computed) == 1 else 's'}"
    made = done.rendered
    click.echo(
        f"\n{made.path}: {made.frame_count:,} frames at {made.frame_rate:g} a second; "
        f"{done.copied_pixels:,} of {made.pixel_count:,} pixels copied, {count} rendered"
    )
    for note in made.notes:
        click.echo(f"  {note}")
    next_step("flashes, supplies and wires on the new house", f"limits {typed(new)} {typed(made.path)}")
