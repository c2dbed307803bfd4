"""The end of a batch: a table for people and a report for programs."""

from __future__ import annotations

import json
import os
import re
import textwrap
from collections import Counter
from collections.abc import Collection, Iterator, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from eavesong.season.fresh import FORGOTTEN
from eavesong.season.remarks import OF_WISHES, Remark, of_every_song
from eavesong.season.space import size_text
from eavesong.season.watch import NAME
from eavesong.words import clock_text

if TYPE_CHECKING:
    from eavesong.season.plan import Task
    from eavesong.season.run import Finished
    from eavesong.season.work import Outcome

WIDTH = 79
MOST_FOUND, MOST_WISHES, MOST_NAMED = 3, 20, 8
"""Grave findings of a song, and lesser ones about what houses wish, that are told one by one; and songs on houses that
are named with what they have in common."""
SLIGHT = {"dark": "stays dark", "seldom": "is dark for most of a song", "stand-in": "stands in"}
"""Lesser findings of a check that are counted apart, by their weight."""

FAINT = "faint"
"""The kind of what is told of one song and counted of others: nearly all that fades ends in it."""
EVERYTHING = re.compile("lit is the whole house(?! but)")
"""What is said of a cue for which all of a house stands in."""


def batch_text(finished: Finished) -> str:
    """A row for each song, the reasons of those that failed, and a sum; 80 columns wide."""
    return "\n".join(_lines(finished))


def _lines(finished: Finished) -> Iterator[str]:
    yield f"{'song':<{NAME}}  {'':<10}  {'length':>7}  {'took':>7}  {'frames':>7}  size"
    for outcome in finished.outcomes:
        yield _row(outcome)
    yield ""
    yield from failed_lines(finished)
    yield from _found(finished)
    for line in (*finished.doubts, *finished.idle):
        yield from textwrap.wrap(line, WIDTH, subsequent_indent="    ")
    counts = Counter(outcome.status for outcome in finished.outcomes)
    well = f"; all {'else ' if finished.doubts else ''}is well" if finished.all_well else ""
    yield ", ".join(f"{count} {status}" for status, count in sorted(counts.items())) + _rate(finished) + well


def _together(names: Sequence[str]) -> str:
    """Songs or houses by name, the first few of them; songs of one name on several houses are ``tin, cedar, fir``."""
    heads = {name.rpartition(", ")[0] for name in names}
    alike = len(heads) == 1 and heads != {""}
    told = [names[0], *(name.rpartition(", ")[2] for name in names[1:])] if alike else [*names]
    more = f" and {len(told) - MOST_NAMED} more" if len(told) > MOST_NAMED else ""
    return f"{(', ' if alike else '; ').join(told[:MOST_NAMED])}{more}"


def failed_lines(finished: Finished) -> Iterator[str]:
    """Each reason for which songs failed, once, 80 columns wide."""
    for reason, names in _failures(finished).items():
        whose = names[0] if len(names) == 1 else f"{names[0]} and {len(names) - 1} more"
        yield from textwrap.wrap(f"{whose}: {reason}", WIDTH, subsequent_indent="    ")


def _failures(finished: Finished) -> dict[str, list[str]]:
    """Why songs failed, each reason once, and the songs that did so."""
    found: dict[str, list[str]] = {}
    for outcome in finished.outcomes:
        if outcome.status == "failed":
            found.setdefault(outcome.reason, []).append(outcome.name)
    return found


def _found(finished: Finished) -> Iterator[str]:
    """What is grave on each house and in each song, as far as one reads that, what was forgotten, which colours wishes
    mix to, and how much more there is."""
    for outcome in finished.outcomes:
        for note in outcome.notes:
            if note.startswith(FORGOTTEN):
                yield from textwrap.wrap(f"{outcome.name}: {note}.", WIDTH, subsequent_indent="    ")
    houses, own = _sorted_out(finished)
    told = [(_house_words(house), house.findings) for house in houses]
    told += [(outcome.name, remarks) for outcome, remarks in zip(finished.outcomes, own, strict=True)]
    names: dict[str, list[str]] = {}
    for whose, remarks in told:
        for found in dict.fromkeys(remark.found for remark in remarks if remark.grave):
            names.setdefault(found, []).append(whose)
    for whose, _ in told:
        grave = [found for found, named in names.items() if named[0] == whose]  # told where it comes first
        for found in grave[:MOST_FOUND]:
            yield from textwrap.wrap(f"{_together(names[found])}: {found}", WIDTH, subsequent_indent="    ")
        if (rest := len(grave) - MOST_FOUND) > 0:
            yield f"{whose}: {rest} more, which the report lists"
    lesser = [(f"{whose}: {remark.found}", remark.kind) for whose, all_of in told for remark in all_of
              if not remark.grave]  # fmt: skip
    wishes = [found for found, kind in lesser if kind in OF_WISHES]
    for found in wishes[:MOST_WISHES]:
        yield from textwrap.wrap(found, WIDTH, subsequent_indent="    ")
    if len(wishes) > MOST_WISHES:
        yield f"and {len(wishes) - MOST_WISHES} more about what houses wish, which the report lists"
    if faint := [found for found, kind in lesser if kind == FAINT]:  # one for each song
        more = f" Likewise {len(faint) - 1} more, which the report lists." if len(faint) > 1 else ""
        yield from textwrap.wrap(faint[0] + more, WIDTH, subsequent_indent="    ")
    slight = [(found, kind) for found, kind in lesser if kind not in (*OF_WISHES, FAINT)]
    if len(slight) == 1:
        yield from textwrap.wrap(f"1 lesser finding, {slight[0][0]}", WIDTH, subsequent_indent="    ")
    elif slight:
        kinds = Counter(kind for _, kind in slight)
        of = ", ".join(f"{words} {kinds[kind]}" for kind, words in SLIGHT.items() if kinds[kind])
        whole = [
            whose
            for whose, all_of in told
            if any(remark.kind == "stand-in" and EVERYTHING.search(remark.found) for remark in all_of)
        ]
        songs = f"{len(whole)} songs" if len(whole) > 1 else "1 song"
        of += f" (the whole house in {songs}, first in {whole[0]})" if whole else ""
        counted = f"{len(slight)} lesser findings{', of what ' + of if of else ''}; the report lists them"
        yield from textwrap.wrap(counted, WIDTH, subsequent_indent="    ")


@dataclass(frozen=True)
class _House:
    """A house, and what is to be said of it whatever the song."""

    name: str
    layout: str
    songs: int
    findings: tuple[Remark, ...]


def _sorted_out(finished: Finished) -> tuple[list[_House], list[tuple[Remark, ...]]]:
    """What is said of each house, once, and what else is said of each song."""
    songs: dict[str, list[Outcome]] = {}
    names = {task.layout: task.house for task in finished.tasks}
    of = {task.number: task.layout for task in finished.tasks}
    for outcome in finished.outcomes:
        if outcome.status != "failed" and outcome.number in of:
            songs.setdefault(of[outcome.number], []).append(outcome)
    houses = [
        _House(names[layout], layout, len(here), tuple(of_every_song([outcome.findings for outcome in here])))
        for layout, here in songs.items()
    ]
    theirs = {house.layout: frozenset(house.findings) for house in houses}
    own = [
        tuple(remark for remark in outcome.findings if remark not in theirs.get(of.get(outcome.number, ""), ()))
        for outcome in finished.outcomes
    ]
    return houses, own


def _house_words(house: _House) -> str:
    return f"{house.name}, whatever the song" if house.songs > 1 else house.name


def _row(outcome: Outcome) -> str:
    name = outcome.name if len(outcome.name) <= NAME else f"{outcome.name}\n{'':<{NAME}}"  # whole: houses come last
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


def batch_dict(finished: Finished, left_behind: Sequence[str] = ()) -> dict[str, Any]:
    """The report as plain dictionaries, lists and numbers, for JSON. What wrote it comes first, see `replaced`."""
    from eavesong import __version__

    houses, own = _sorted_out(finished)
    tasks = {task.number: task for task in finished.tasks}
    return {
        "written_by": f"eavesong {__version__}",
        "setlist": str(finished.setlist),
        "all_well": finished.all_well,
        "seconds": round(finished.seconds, 3),
        "workers": finished.workers,
        "houses": [
            {"house": house.name, "layout": house.layout, "findings": [each.for_programs() for each in house.findings]}
            for house in houses
        ],
        "songs": [
            _whose(tasks.get(outcome.number)) | asdict(outcome) | {"findings": [each.for_programs() for each in found]}
            for outcome, found in zip(finished.outcomes, own, strict=True)
        ],
        "doubts": list(finished.doubts),
        "idle": list(finished.idle),
        "left_behind": list(left_behind),
    }


def _whose(task: Task | None) -> dict[str, str]:
    """Which song on which house, and of which show."""
    return {} if task is None else {"song": task.song, "show": task.show, "house": task.house, "layout": task.layout}


def left_over(earlier: Path, finished: Finished) -> tuple[str, ...]:
    """Frames and pages that the setlist made by its ``earlier`` report and makes no longer, where they are still there.

    Nothing is said where that cannot be read, or tells of another setlist.
    """
    try:
        told = json.loads(earlier.read_text(encoding="utf-8"))
        if Path(told["setlist"]).name != Path(finished.setlist).name:
            return ()
        made = [*(song[key] for song in told["songs"] for key in ("out", "page")), *told.get("left_behind", ())]
        now = {os.path.realpath(file) for task in finished.tasks for file in (task.out, task.page) if file}
        folder = os.path.realpath(Path(finished.setlist).parent)
        here = dict.fromkeys(map(os.path.realpath, _as_here([file for file in made if file], now, folder)))
        return tuple(file for file in here if file not in now and Path(file).is_file())
    except (OSError, ValueError, TypeError, LookupError):
        return ()


def _as_here(made: Sequence[str], now: Collection[str], folder: str) -> Iterator[str]:
    """The files of a report that lie in the setlist's own ``folder``, as they are called there: it may be a copy of the
    one that the report was written in, which is known by a file that is made ``now``."""
    own = [os.path.relpath(file, folder) for file in sorted(now) if Path(file).is_relative_to(folder)]
    home = next(
        (file.removesuffix(name) for name in own for file in made if file.endswith(os.sep + name)), folder + os.sep
    )
    for file in made:
        if file.startswith(home):
            yield os.path.join(folder, file.removeprefix(home))
        elif Path(file).is_relative_to(folder):
            yield file
