"""What several commands read and print alike."""

from __future__ import annotations

import contextlib
import math
import re
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any, TypeVar

import click

from eavesong.words import seconds_on_clock, visible

if TYPE_CHECKING:
    from eavesong.music import BeatGrid
    from eavesong.scene import Reopened

Command = TypeVar("Command", bound=Callable[..., Any])


def may_overwrite(command: Command) -> Command:
    """``command`` with the option of whatever writes files; see `eavesong.replaced`."""
    told = "Replace files that eavesong did not write, or that were changed since."
    return click.option("--overwrite", is_flag=True, help=told)(command)


def next_step(does: str, command: str) -> None:
    """Say on standard error what commonly comes next: the ``command`` to type, and what it does."""
    click.echo(f"Next, {does}:\n  eavesong {command}", err=True)


def tell_outdated(paths: tuple[str, ...]) -> None:
    """Say on standard error which files have changed since frames were made from them."""
    for path in paths:
        click.echo(
            f"'{visible(path)}' was changed after these frames were made, which show what it was before.", err=True
        )


class SomeOf(click.Choice[str]):
    """Some of several words, with commas between; their text, for whoever parts it again."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """The words of ``value`` with a comma between; click.BadParameter for one that is none of the choices."""
        choose = super().convert
        return ",".join(choose(word.strip(), param, ctx) for word in str(value).split(","))


_SECONDS = re.compile(r"\d{1,9}(?:\.\d*)?|\.\d+", re.ASCII)


def seconds_of(text: str | None, option: str | None = None) -> float | None:
    """Seconds from ``83.5``, ``1:23.5`` or ``1:02:23.5``; None stays None. click.BadParameter for anything else.

    option: which one it was given for.
    """
    if text is None:
        return None
    seconds = float(text) if _SECONDS.fullmatch(text.strip()) else seconds_on_clock(text)
    if seconds is None:
        advice = "Write seconds (83.5) or minutes and seconds (1:23.5)."
        raise click.BadParameter(f"'{text}' is not a time. {advice}", param_hint=option)
    return seconds


def moment_of(text: str, grid: BeatGrid, option: str) -> float:
    """Seconds from ``83.5``, ``1:23.5`` or ``bar 17`` of a song; click.BadParameter for anything else."""
    if not text.lower().startswith("bar"):
        return seconds_of(text, option) or 0.0
    try:
        bar = float(text[3:])
    except ValueError:
        bar = float("nan")
    if not 1 <= bar <= grid.bar_count + 1:
        raise click.BadParameter(f"'{text}' is no bar. Write 'bar 1' to 'bar {grid.bar_count}'.", param_hint=option)
    return max(0.0, grid.time_of_bar(bar - 1))


def moment_in(source: Reopened, text: str | None, option: str) -> float | None:
    """Seconds from ``83.5``, ``1:23.5`` or ``bar 17`` of the song of frames; of a bar, those of the first frame from
    there on: the one before still shows what was before the bar. None stays None."""
    if text is None or not text.lower().startswith("bar"):
        return seconds_of(text, option)
    if source.grid is None:
        raise click.BadParameter(f"'{text}': the frames file tells no bars. Write seconds.", param_hint=option)
    frames = source.frames
    late = (moment_of(text, source.grid, option) - frames.start) * frames.frame_rate
    return frames.start + math.ceil(late - 1e-3) / frames.frame_rate


@contextlib.contextmanager
def bar_of_progress(label: str, quiet: bool = False) -> Iterator[Callable[[int, int], None]]:
    """A progress bar on a terminal, nothing elsewhere; yields the function that takes (done, in all)."""
    if quiet:
        yield lambda done, total: None
        return
    bar = None
    shown = 0

    def progress(done: int, total: int) -> None:
        """Move the bar on to ``done`` of ``total``; it is drawn at the first call."""
        nonlocal bar, shown
        if bar is None:
            bar = click.progressbar(length=total, label=label, show_pos=True)
            bar.__enter__()
        bar.update(done - shown)
        shown = done

    try:
        yield progress
    finally:
        if bar is not None:
            bar.__exit__(None, None, None)
