"""What a batch has to do: every song for every house, with everything checked before anything is rendered.

What is wrong with the setlist, a show or a house stops the batch at once. What is wrong with a single song stands
with that song, and the others go on.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, TypeVar

from eavesong.errors import EavesongError, OutputError, Problem, ShowError
from eavesong.playback.wanted import song_meant
from eavesong.scene.order import Order
from eavesong.season.drafts import draft_missing, drafted_name
from eavesong.season.foreign import wishes_apart, with_foreign, with_palettes
from eavesong.season.moved import with_earlier
from eavesong.season.named import misfits, with_places
from eavesong.season.remarks import Remark, shown
from eavesong.statements import place

if TYPE_CHECKING:
    from eavesong.layout import Layout
    from eavesong.season.setlist import Setlist, Song
    from eavesong.show import Show

Read = TypeVar("Read")


@dataclass(frozen=True)
class Task:
    """One song for one house: what a worker is given. Paths are absolute texts, so that it can be sent anywhere."""

    number: int
    """From 0."""
    name: str
    """What people call it: the song's title, and the house where there are several."""
    order: Order
    """What is asked for, and kept of what was asked for earlier."""
    out: str
    house: str = ""
    """What its house is called."""
    said: tuple[str, ...] = ()
    """The terms that the setlist itself gives."""
    again: bool = False
    """Whether it is rendered even if it is up to date."""
    overwrite: bool = False
    """Whether its frames may take the place of a file that eavesong did not write."""
    page: str = ""
    """The page that plays it in a browser; empty where none is wanted."""
    setlist: str = ""
    """The name of the setlist's file."""
    apart: bool = False
    """Whether its frames lie in a folder of the house's own, beside those of others."""
    reader: tuple[str, str, tuple[str, ...]] = ("", "", ())
    """Whom its page is for, the date at its head, and what it does not hold."""
    foreign: Remark | None = None
    """What is said of a show that was made for another song; see `eavesong.season.foreign`."""
    palettes: tuple[str, ...] = ()
    """The palettes that the setlist's shows for its house have of their own, or ask for."""
    idle: str = ""
    """The colour that the setlist shows between its songs; empty where it names none."""
    title: str = ""
    """What the setlist calls its song; empty where it says nothing."""
    findings: str = "show"
    """What is looked at besides: ``none``, ``show``, ``limits``."""
    kept: tuple[str, ...] = ()
    """What was kept of an earlier order, in words."""
    earlier: str = ""
    """Frames of the same that lay elsewhere, see `eavesong.season.moved`; empty where there are none, or new ones."""
    written: Order | None = None
    """The order that the frames file is to tell, from its own folder, where the worker has copies of the files."""

    @property
    def song(self) -> str:
        """The sound file."""
        assert self.order.song is not None, "every task of a batch has a song"
        return self.order.song

    @property
    def show(self) -> str:
        """The show file."""
        return self.order.show

    @property
    def layout(self) -> str:
        """The layout file."""
        return self.order.layout

    @property
    def frame_rate(self) -> float:
        """Frames a second."""
        return self.order.frame_rate


@dataclass(frozen=True, eq=False)
class Plan:
    """A batch that has been checked."""

    setlist: Setlist
    tasks: tuple[Task, ...]
    shows: Mapping[str, Show]
    layouts: Mapping[str, Layout]
    faults: Mapping[int, str]
    """What is wrong with a task's song, by the task's number."""
    apart: tuple[str, ...] = ()
    """Wishes of houses that mean other colours in each of their shows; see `eavesong.season.foreign.wishes_apart`."""


def plan_batch(
    path: str | Path, *, again: bool = False, overwrite: bool = False, say: Callable[[str], None] = lambda line: None
) -> Plan:
    """Read and check the setlist at ``path`` and all it names.

    A song without a show gets a drafted one, beside it.

    again: redo what is up to date.
    overwrite: take the place of files that eavesong did not write.
    say: takes a line for each song that cannot be used, whatever houses it is for, and for each show that is drafted.

    Raises the error of the first kind met (ShowError, LayoutError, EffectError, OutputError) with every problem of
    the setlist, its shows, its houses and the places for its frames.
    """
    from eavesong.layout import load_layout
    from eavesong.season.setlist import load_setlist
    from eavesong.show import load_show

    setlist = load_setlist(path)
    problems: list[Problem] = []
    tasks = tuple(replace(task, again=again, overwrite=overwrite) for task in _tasks(setlist, problems))
    errors: list[EavesongError] = [ShowError(problems)] if problems else []
    of_houses: list[EavesongError] = []
    layouts: dict[str, Layout] = _read_all(dict.fromkeys(task.layout for task in tasks), load_layout, of_houses)
    faults = {task.number: fault for task in tasks if (fault := _fault(task) or _unlimited(task, layouts))}
    undrafted = {task.show for task in tasks if task.show == drafted_name(task.song)}
    named = dict.fromkeys(task.show for task in tasks if os.path.isfile(task.show) or task.show not in undrafted)
    shows: dict[str, Show] = _read_all(named, load_show, errors)
    errors = with_places(setlist, [*errors, *of_houses])
    if asked := dict.fromkeys(misfits(setlist, layouts)):
        errors.append(ShowError(asked))
    if not errors:
        _make_folders(tasks, errors)
    if errors:
        errors += [ShowError(Problem(str(path), "", told)) for told in told_of(tasks, faults)]
        raise type(errors[0])(dict.fromkeys(problem for error in errors for problem in error.problems))
    for told in told_of(tasks, faults):
        say(f"left out    {told}")
    fair = [task for task in tasks if task.number not in faults]
    hopeless = draft_missing(fair, layouts, say)
    shows |= _read_all(
        dict.fromkeys(task.show for task in fair if task.show not in (*shows, *hopeless)), load_show, errors
    )
    faults |= {task.number: hopeless[task.show] for task in fair if task.show in hopeless}
    for told in (apart := tuple(wishes_apart(fair, shows, layouts))):
        say(f"colours     {told}")
    idle = setlist.file.evening.idle if setlist.file.evening else ""
    tasks = with_earlier(setlist, with_palettes(with_foreign(tasks, shows), shows, idle or ""), layouts)
    return Plan(setlist, tasks, shows, layouts, faults, apart)


def told_of(tasks: Sequence[Task], faults: Mapping[int, str]) -> Iterator[str]:
    """A line for each fault, however many songs and houses have it: whose it is, and what it is."""
    names: dict[str, list[str]] = {}
    for task in tasks:
        if task.number in faults:
            names.setdefault(faults[task.number], []).append(task.name)
    for fault, named in names.items():
        whose = named[0] if len(named) == 1 else f"{named[0]} and {len(named) - 1} more"
        yield f"{whose}: {fault}"


def _unlimited(task: Task, layouts: Mapping[str, Layout]) -> str:
    """Why a limit that is asked for cannot hold on a task's house; empty where it can, or none is asked for."""
    from eavesong.within.limiter import in_quotes
    from eavesong.within.stages import within

    if not task.order.limit or task.layout not in layouts:
        return ""
    try:
        within(layouts[task.layout], task.frame_rate, task.order.limit, soften=False)
    except EavesongError as fault:
        free = "Or ask for none on it: 'limit = []' below a [[house]] with its layout."
        advice = in_quotes(fault.problems[0].instead)
        return f"{shown(task.layout)}: {fault.problems[0].found}. {advice} {free}".strip()
    return ""


def _tasks(setlist: Setlist, problems: list[Problem]) -> tuple[Task, ...]:
    """Every song for every house, each frames file once; where two songs would write the same one is a problem."""
    found: dict[str, Task] = {}
    for index, song in enumerate(setlist.songs):
        if missing := list(_missing(setlist, song, index)):
            problems += missing
            continue
        for task in _tasks_of(setlist, song):
            first = found.setdefault(task.out, task)
            if first.order != task.order:
                problems.append(_clash(setlist, index, task, first))
    problems += _shared_pages(setlist, found.values())
    inputs = {file for task in found.values() for file in (task.song, task.show, task.layout)}
    problems += [
        Problem(
            str(setlist.path), "", f"the frames of '{task.name}' would overwrite '{Path(task.out).name}'", "Rename it."
        )
        for task in found.values()
        if task.out in inputs
    ]
    return tuple(replace(task, number=number) for number, task in enumerate(found.values()))


def _shared_pages(setlist: Setlist, tasks: Iterable[Task]) -> Iterator[Problem]:
    """Songs whose pages would have one name."""
    first: dict[str, Task] = {}
    for task in tasks:
        if task.page and (other := first.setdefault(task.page, task)) is not task:
            found = f"'{task.name}' and '{other.name}' would have one page, '{Path(task.page).name}'"
            advice = 'Give one of them a frames file of another name: frames = "….h5".'
            yield Problem(str(setlist.path), "", found, advice)


def _missing(setlist: Setlist, song: Song, index: int) -> Iterator[Problem]:
    keys = {"song": song.song, "layout": setlist.layouts_of(song)}
    for key, value in keys.items():
        if not value:
            where = place(setlist.text, ("song", index))
            advice = f"Add a line '{key} = …'" + (
                " to it, or at the top for all songs." if key != "song" else " to it."
            )
            yield Problem(str(setlist.path), where, f"'{song.name}' has no '{key}'", advice)


def _tasks_of(setlist: Setlist, song: Song) -> Iterator[Task]:
    for house in setlist.layouts_of(song):
        frames = PurePosixPath(setlist.frames_of(song, house))
        page = setlist.within_house(song, house, PurePosixPath(setlist.file.pages or "", f"{frames.stem}.html"))
        reader = setlist.reader_of(house)
        yield Task(
            number=0,
            name=f"{song.name}, {setlist.name_of(house)}" if len(setlist.all_houses) > 1 else song.name,
            house=setlist.name_of(house),
            order=Order(
                _absolute(setlist, setlist.show_of(song) or drafted_name(song.song or "")),
                _absolute(setlist, house),
                _absolute(setlist, song.song or ""),
                **setlist.said(song, house),
            ),
            out=_absolute(setlist, str(frames)),
            page=_absolute(setlist, str(page)) if setlist.file.pages else "",
            findings=setlist.file.findings,
            said=tuple(setlist.said(song, house)),
            setlist=setlist.path.name,
            apart=setlist.apart,
            title=song.title,
            reader=(reader.reader, reader.date, reader.without),
        )


def _absolute(setlist: Setlist, file: str) -> str:
    return os.path.abspath(setlist.beside(file))


def _clash(setlist: Setlist, index: int, task: Task, first: Task) -> Problem:
    where = place(setlist.text, ("song", index))
    found = f"'{task.name}' would write '{os.path.relpath(task.out, setlist.path.parent)}', as '{first.name}' does"
    if os.path.basename(task.song) == os.path.basename(first.song) and task.layout != first.layout:
        advice = "Name the houses apart: below a [[house]] with its 'layout', write name = \"…\"."
    elif task.layout == first.layout and task.apart:
        others = ", ".join(f'"{house}"' for house in setlist.all_houses if _absolute(setlist, house) != task.layout)
        advice = (
            f"For a version of this house alone, keep it out of the other [[song]]: layout = [{others}]; or none, "
            "where the setlist says for all songs which houses there are. "
            'To have both, give one a frames file of its own: frames = "….h5".'
        )
    else:
        advice = 'Give one of them a frames file of its own: frames = "….h5".'
    return Problem(str(setlist.path), where, found, advice)


def _read_all(paths: Mapping[str, None], read: object, errors: list[EavesongError]) -> dict[str, Read]:
    """What ``read`` makes of each path; what it raises is kept in ``errors``."""
    found: dict[str, Read] = {}
    for path in paths:
        try:
            found[path] = read(path)  # type: ignore[operator]
        except EavesongError as fault:
            errors.append(fault)
    return found


def _make_folders(tasks: tuple[Task, ...], errors: list[EavesongError]) -> None:
    """Make the folders that frames go to; one that cannot be made or written to is an error for the whole batch."""
    files = [file for task in tasks for file in (task.out, task.page) if file]
    for folder in dict.fromkeys(Path(file).parent for file in files):
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as fault:
            errors.append(_cannot_write(folder, fault.strerror or str(fault)))
            continue
        if not os.access(folder, os.W_OK | os.X_OK):
            errors.append(_cannot_write(folder, "it is read-only"))


def _cannot_write(folder: Path, reason: str) -> OutputError:
    advice = 'Make it writable, or name another folder: frames = "…".'
    return OutputError(Problem(str(folder), "", f"frames cannot be written here: {reason}", advice))


def _fault(task: Task) -> str:
    """What is wrong with a song that can be seen without listening to it; empty when nothing is."""
    path = Path(task.song)
    if advice := song_meant(path):
        return f"{path.name}: there is no such file. {advice}"
    return f"{path.name}: is empty" if not path.stat().st_size else ""
