"""The end of a batch: a table for people and a report for programs."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Iterator
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from eavesong.season.fresh import FORGOTTEN
from eavesong.season.space import size_text
from eavesong.season.watch import NAME
from eavesong.words import clock_text

if TYPE_CHECKING:
    from eavesong.season.run import Finished
    from eavesong.season.work import Outcome

WIDTH = 79
MOST_FOUND = 3
"""Grave findings of a song that are told one by one."""


def batch_text(finished: Finished) -> str:
    """A row for each song, the reasons of those that failed, and a sum; 80 columns wide."""
    return "\n".join(_lines(finished))


def _lines(finished: Finished) -> Iterator[str]:
    yield f"{'song':<{NAME}}  {'':<10}  {'length':>7}  {'took':>7}  {'frames':>7}  size"
    for outcome in finished.outcomes:
        yield _row(outcome)
    yield ""
    for reason, names in _failures(finished).items():
        whose = names[0] if len(names) == 1 else f"{names[0]} and {len(names) - 1} more"
        yield from textwrap.wrap(f"{whose}: {reason}", WIDTH, subsequent_indent="    ")
    yield from _found(finished)
    counts = Counter(outcome.status for outcome in finished.outcomes)
    yield ", ".join(f"{count} {status}" for status, count in sorted(counts.items())) + _rate(finished)


def _failures(finished: Finished) -> dict[str, list[str]]:
    """Why songs failed, each reason once, and the songs that did so."""
    found: dict[str, list[str]] = {}
    for outcome in finished.outcomes:
        if outcome.status == "failed":
            found.setdefault(outcome.reason, []).append(outcome.name)
    return found


def _found(finished: Finished) -> Iterator[str]:
    """What is grave in each song, as far as one reads that, what was forgotten, and how much more there is."""
    for outcome in finished.outcomes:
        for note in outcome.notes:
            if note.startswith(FORGOTTEN):
                yield from textwrap.wrap(f"{outcome.name}: {note}.", WIDTH, subsequent_indent="    ")
    for outcome in finished.outcomes:
        for found in outcome.grave[:MOST_FOUND]:
            yield from textwrap.wrap(f"{outcome.name}: {found}", WIDTH, subsequent_indent="    ")
        if (more := len(outcome.grave) - MOST_FOUND) > 0:
            yield f"{outcome.name}: {more} more, which the report lists"
    slight = sum(not note.grave for outcome in finished.outcomes for note in outcome.findings)
    if slight:
        yield f"{slight} lesser finding{'s; the report lists them' if slight > 1 else '; the report lists it'}"


def _row(outcome: Outcome) -> str:
    name = outcome.name if len(outcome.name) <= NAME else outcome.name[: NAME - 1] + "…"
    length = clock_text(outcome.song_seconds, 0) if outcome.frames else ""
    took = f"{outcome.seconds:.1f} s" if outcome.status != "up to date" else ""
    frames = f"{outcome.frames:,}" if outcome.frames else ""
    size = size_text(outcome.size) if outcome.size else ""
    return f"{name:<{NAME}}  {outcome.status:<10}  {length:>7}  {took:>7}  {frames:>7}  {size}".rstrip()


def _rate(finished: Finished) -> str:
    song = sum(outcome.song_seconds for outcome in finished.outcomes if outcome.status == "rendered")
    spent = f" in {clock_text(finished.seconds, 0)}"
    if not song:
        return spent
    return f"{spent}: {clock_text(song, 0)} of song, {song / finished.seconds:.0f} times real time"


def batch_dict(finished: Finished) -> dict[str, Any]:
    """The report as plain dictionaries, lists and numbers, for JSON. What wrote it comes first, see `replaced`."""
    from eavesong import __version__

    return {
        "written_by": f"eavesong {__version__}",
        "setlist": str(finished.setlist),
        "all_well": finished.all_well,
        "seconds": round(finished.seconds, 3),
        "workers": finished.workers,
        "songs": [asdict(outcome) for outcome in finished.outcomes],
    }
