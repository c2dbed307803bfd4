"""Whether a frames file is up to date: made from the very content that is there now, as it is asked for now, by the
code that counts.

Content is compared, by SHA-256, and never the time at which a file was touched; that only says which frames are held
against their checksums again. Nothing is listened to or compiled.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from eavesong.errors import EavesongError, FramesError
from eavesong.scene.order import Terms, kept_on, parse_order
from eavesong.season.moved import grown_from, house_of
from eavesong.season.said import Said, damage, said

if TYPE_CHECKING:
    from eavesong.layout import Layout
    from eavesong.scene import Order
    from eavesong.season.plan import Task
    from eavesong.show import Show

NEW = "there were no frames of it yet"
FORGOTTEN = "perhaps forgotten"
MOST_YEARS = 100
"""Folders beside that of a setlist's frames in which frames of earlier years are looked for, at most."""
FORCED = "asked for again"
UNTOLD = "an older eavesong made it, which did not say what was asked for"


def why_due(task: Task, show: Show, layout: Layout) -> str:
    """Why a task has to be done; empty where its frames file is up to date, and its frames fit their checksums.

    Raises AudioError or BeatsError for a song or beats text that cannot be read.
    """
    return judged(task, show, layout)[1] or damage(task.out)


def judged(
    task: Task, show: Show, layout: Layout, others: frozenset[Path] = frozenset()
) -> tuple[Task, str, Said | None]:
    """The task within the limit and the softening that its present frames have, why it has to be done, and what these
    frames say; None where they say nothing.

    What keeps people and wires safe is not undone by whoever does not mention it: only a setlist that speaks of it
    itself does that. others: the folders in which the same setlist has frames: they are of no house that went by
    another name. Raises as `why_due`.
    """
    task, due, told = _judged(task, show, layout)
    if not (task.order.limit or task.order.soften) and (forgotten := _forgotten(task, layout, others)):
        task = replace(task, kept=(*task.kept, forgotten))
    return task, due, told


def _judged(task: Task, show: Show, layout: Layout) -> tuple[Task, str, Said | None]:
    if not Path(task.out).is_file():
        return _as_elsewhere(task), NEW, None
    try:
        told = said(task.out)
        earlier = parse_order(told.order, task.out) if told.order is not None else None
    except FramesError as fault:
        return task, FORCED if task.again else f"its frames file {fault.problems[0].found}", None
    if earlier is not None:
        task = _keeping(task, earlier)
    return task, FORCED if task.again else ", ".join(_changes(told, earlier, task, show, layout)), told


def _as_elsewhere(task: Task) -> Task:
    """A task without frames on the terms of those that lay elsewhere, where there are any."""
    with suppress(FramesError):
        told = said(task.earlier) if task.earlier else None
        if told is not None and told.order is not None:
            return _keeping(task, parse_order(told.order, task.earlier))
    return task


def _forgotten(task: Task, layout: Layout, others: frozenset[Path]) -> str:
    """That frames of the same song for another house, in a folder beside, are within a limit or softened, where
    nothing is asked for on this one: a house that has got another name was perhaps meant. Under another title, too,
    where most of its props are in ``layout`` and no frames were there yet: a house of its own has the same ones often,
    and would be asked after each time. Empty where there are none.
    """
    if {"limit", "soften"} & {*task.said}:
        return ""
    out = Path(task.out)
    new = not out.is_file()
    frames = out.parent if not task.apart else out.parent.parent
    folders = [*_houses_beside(frames)]
    if new:  # the frames of this year lie in a folder of their own, beside last year's or below it
        folders += [each for year in _houses_beside(frames.parent)[:MOST_YEARS] for each in _houses_beside(year)]
    for folder in dict.fromkeys(folders):
        other = folder / out.name
        if other == out or folder in others or not other.is_file():
            continue
        with suppress(FramesError):
            told = said(str(other))
            order = parse_order(told.order, str(other)) if told.order is not None else None
            if order is not None and told.song == Path(task.song).name and (order.limit or order.soften):
                earlier = house_of(str(other))
                if earlier.title != layout.title and not (new and grown_from(earlier, layout)):
                    continue
                terms = Terms(limit=order.limit, soften=order.soften).in_words()
                told_there = f"those in '{folder.name}' are on the terms {terms}, and nothing is said here"
                return f"{FORGOTTEN}: {told_there}. Write them, or 'limit = []' and 'soften = false', in the setlist"
    return ""


def _houses_beside(folder: Path) -> tuple[Path, ...]:
    """The folders in ``folder``, in alphabetical order, and itself."""
    with suppress(OSError), os.scandir(folder) as entries:
        return (*sorted(Path(entry.path) for entry in entries if entry.is_dir()), folder)
    return ()


def _keeping(task: Task, earlier: Terms) -> Task:
    from eavesong.scene.reopen import told_kept

    terms = kept_on(earlier, task.order, task.said)
    return replace(task, order=task.order.on(terms), kept=(*task.kept, *told_kept(task.order, terms)))


def _changes(told: Said, earlier: Order | None, task: Task, show: Show, layout: Layout) -> Iterator[str]:
    """What has changed since the frames were made that say this, in words."""
    from eavesong.music.sound import sound_hash
    from eavesong.render.origin import made_by, other_sources
    from eavesong.scene.scene import source_hashes

    sources = source_hashes(show, song_given(task, show)) | {"audio": sound_hash(task.song)}
    changed = list(other_sources(told.hashes, show, layout, sources))
    if told.song != Path(task.song).name and "the song" not in changed:
        changed.append("the song")
    yield from (f"{what} changed" for what in changed)
    if earlier is None:
        yield UNTOLD
    else:
        yield from (f"asked for: {words}" for words in earlier.differences(task.order))
    if told.hashes.get("renderer") != made_by():
        yield "another version of eavesong made it"


def song_given(task: Task, show: Show) -> str | None:
    """The song to give to the renderer; None where it is the show's own, whose named beats then count."""
    own = show.song is not None and Path(show.song).resolve() == Path(task.song).resolve()
    return None if own else task.song


def stored_share(task: Task) -> float | None:
    """Bytes that the frames of a task's present file take, as a share of their full size; None where there is none."""
    try:
        return said(task.out).share
    except EavesongError:
        return None
