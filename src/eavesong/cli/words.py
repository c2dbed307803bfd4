"""What several commands read and print alike."""

from __future__ import annotations

import contextlib
import math
from collections.abc import Callable, Iterator

import click


def seconds_of(text: str | None) -> float | None:
    """Seconds from ``83.5`` or ``1:23.5``; None stays None. click.BadParameter for anything else."""
    if text is None:
        return None
    minutes, _, seconds = text.rpartition(":")
    try:
        value = float(seconds) + 60.0 * int(minutes or 0)
    except ValueError:
        value = math.nan
    if not (math.isfinite(value) and value >= 0):
        raise click.BadParameter(f"'{text}' is not a time. Write seconds (83.5) or minutes and seconds (1:23.5).")
    return value


@contextlib.contextmanager
def bar_of_progress(label: str, quiet: bool = False) -> Iterator[Callable[[int, int], None]]:
    """A progress bar on a terminal, nothing elsewhere; yields the function that takes (done, in all)."""
    if quiet:
        yield lambda done, total: None
        return
    bar = None
    shown = 0

    def progress(done: int, total: int) -> None:
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


def clock(seconds: float) -> str:
    """``1:05.6`` for 65.6 seconds."""
    minutes, rest = divmod(round(seconds, 1), 60)
    return f"{int(minutes)}:{rest:04.1f}"
