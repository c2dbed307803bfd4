"""What a worker does with one song: wait for its turn, look whether it is due, listen, compile, render."""

from __future__ import annotations

import os
import threading
import time
import traceback
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from eavesong.errors import EavesongError, FramesError
from eavesong.leftovers import LOCK, beside
from eavesong.music.made_for import PARTS, key_of
from eavesong.scene.order import parse_order
from eavesong.season.drafts import drafted_name, is_another_show
from eavesong.season.fresh import FORCED, song_given, why_due
from eavesong.season.locks import NO_LOCKS, PATIENCE, held
from eavesong.season.look import kept_look, look, replaces
from eavesong.season.remarks import ANOTHER_SONG, BEFORE, Remark, shown
from eavesong.season.said import mark_of, said

if TYPE_CHECKING:
    from eavesong.layout import Layout
    from eavesong.scene import Scene
    from eavesong.season.plan import Task
    from eavesong.show import Show

Tell = Callable[[str, int, int], None]
"""Called with the stage, and the frames done and in all."""

STAGES = ("waiting", "reading", "listening", "compiling", "rendering", "fetching", "checking", "its page")

UP_TO_DATE = "song, beats, show, effects, layout, what is asked for and version are what they were"


@dataclass(frozen=True)
class Outcome:
    """What became of one task."""

    number: int
    name: str
    out: str
    status: str
    """``rendered``, ``up to date`` or ``failed``."""
    reason: str
    """Why it was rendered, skipped, or failed."""
    seconds: float = 0.0
    """How long it took."""
    song_seconds: float = 0.0
    frames: int = 0
    size: int = 0
    """Bytes of the frames file."""
    attempts: int = 1
    """How often it was begun: a worker that dies leaves its song to another."""
    asked: str = ""
    """The terms it was rendered on, in words; empty for the usual ones."""
    notes: tuple[str, ...] = ()
    """What was kept of an earlier order, dimmed and softened, in words."""
    findings: tuple[Remark, ...] = ()
    """What deserves a look in its frames."""
    page: str = ""
    """The page that plays it; empty where none is wanted."""
    trace: str = ""
    """Where eavesong itself failed, for whoever mends it."""

    @property
    def grave(self) -> tuple[str, ...]:
        """What is not well in its frames, in words."""
        return tuple(note.found for note in self.findings if note.grave)


ANSWERS = ("the show changed", "the beats changed", "the sections changed", "the events changed")
"""Changes by which somebody answers to another song."""


def work(task: Task, tell: Tell) -> Outcome:
    """Do one task; every fault of its song becomes an Outcome and never an exception.

    The frames file is whole or what it was. Two processes with one frames file take turns, and the second finds it
    up to date.
    """
    began = time.perf_counter()
    try:
        with held(beside(Path(task.out), LOCK), lambda: tell("waiting", 0, 0)):
            outcome = _work(task, tell)
    except EavesongError as fault:
        outcome = failed(task, reason_of(fault))
    except Exception as fault:  # a fault of ours ends one song, not the night
        reason = f"eavesong itself has a fault: {type(fault).__name__}: {fault}"
        outcome = replace(failed(task, reason), trace="".join(traceback.format_exception(fault)))
    return _timed(outcome, time.perf_counter() - began)


def failed(task: Task, reason: str, attempts: int = 1) -> Outcome:
    """The outcome of a task that came to nothing."""
    return Outcome(task.number, task.name, task.out, "failed", reason, attempts=attempts)


def reason_of(fault: EavesongError) -> str:
    """The first problem in one line, with the name of its file, and how many there are."""
    first = fault.problems[0]
    where = ", ".join(part for part in (Path(first.file).name, first.place) if part)
    more = f" (and {fault.count - 1:,} more problems)" if fault.count > 1 else ""
    advice = f". {first.instead}" if first.instead else ""
    return f"{where}: {first.found}{advice}{more}"


def _timed(outcome: Outcome, seconds: float) -> Outcome:
    return replace(outcome, seconds=seconds)


def _work(task: Task, tell: Tell) -> Outcome:
    from eavesong.layout import load_layout
    from eavesong.show import load_show

    tell("reading", 0, 0)
    show, layout = load_show(task.show), load_layout(task.layout)
    if due := why_due(task, show, layout):
        task = replace(task, kept=(*task.kept, *_of_other_files(task), *_of_lost_wishes(task, layout)))
        outcome = _rendered(task, show, layout, due, tell)
    else:
        outcome = Outcome(
            task.number,
            task.name,
            task.out,
            "up to date",
            UP_TO_DATE,
            asked=task.order.terms.in_words(),
            notes=task.kept,
        )
    another = replaces(task)
    if another and kept_look(said(task.out), task, layout) is None:
        outcome = replace(outcome, notes=(*outcome.notes, another))
    page = mark_of(task.page) if task.page else ()
    try:
        found = look(task, layout, tell)
        if outcome.status == "up to date" and task.page and mark_of(task.page) != page:
            outcome = replace(outcome, notes=(*outcome.notes, f"its page was made{' anew' if page else ''}"))
        once = (remark for remark in outcome.findings if task.findings != "none" and remark not in found)
        return replace(outcome, findings=(*found, *once), page=task.page)
    except EavesongError as fault:
        return replace(outcome, status="failed", reason=reason_of(fault))


def _rendered(task: Task, show: Show, layout: Layout, due: str, tell: Tell) -> Outcome:
    from eavesong.render import render_scene
    from eavesong.scene import scene_of

    tell("listening", 0, 0)
    scene = scene_of(show, layout, replace(task.order, song=song_given(task, show)))
    scene, another = _with_before(scene, _hashes(task), due)
    tell("compiling", 0, 0)
    warm(show)
    tell("rendering", 0, 0)
    done = render_scene(
        scene, task.out, workers=1, progress=lambda frames, total: tell("rendering", frames, total),
        written=task.written, overwrite=task.overwrite,
    )  # fmt: skip
    length = done.frame_count / task.frame_rate
    size = os.path.getsize(task.out)
    return Outcome(
        task.number, task.name, task.out, "rendered", due, song_seconds=length, frames=done.frame_count, size=size,
        asked=task.order.terms.in_words(), notes=(*task.kept, *done.notes),
        findings=(ANOTHER_SONG,) if another else (),
    )  # fmt: skip


def _with_before(scene: Scene, told: Mapping[str, str], due: str) -> tuple[Scene, bool]:
    """The scene, which knows the sound that its frames were made to before as long as nobody has answered to the other
    one; and whether it is another one since the frames that say what is ``told``, and no text was made for it."""
    sound, due_to = scene.hashes["audio"], {*due.split(", ")}
    made_to = told.get("audio", sound)
    before = told.get(BEFORE) or made_to
    carried = sound in (scene.hashes.get(key_of(part)) for part in PARTS)
    answered = carried if made_to != sound else not due_to.isdisjoint(ANSWERS)
    if before != sound and not answered and FORCED not in due_to:
        scene = replace(scene, hashes=scene.hashes | {BEFORE: before})
    return scene, made_to != sound and not carried


def _of_other_files(task: Task) -> Iterator[str]:
    """That the present frames of a task were made for a layout by another name, as those of an earlier year are; or
    from another show, where the setlist names none and a drafted one is taken."""
    with suppress(FramesError):
        told = said(task.out).order if Path(task.out).is_file() else None
        if told is None:
            return
        earlier = parse_order(told, task.out)
        if (house := Path(earlier.layout).name) != Path(task.layout).name:
            yield f"its frames were made for '{house}', and are replaced. Frames of its own: frames = \"…\""
        drafted = task.show == drafted_name(task.song)
        if drafted and is_another_show(Path(task.out).parent / earlier.show, Path(task.show)):
            name = Path(earlier.show).name
            yield f"its frames were made from '{name}', and are replaced. To keep to that one: show = \"…\""


def _of_lost_wishes(task: Task, layout: Layout) -> Iterator[str]:
    """What the house wished as the present frames of a task were made, and wishes no more: a new file may forget it."""
    from eavesong.frames import open_frames
    from eavesong.retarget.wishes import forgotten
    from eavesong.scene import Reopened

    made = task.out if Path(task.out).is_file() else task.earlier
    with suppress(FramesError):
        if not made or said(made).hashes.get("layout files", layout.content_hash) == layout.content_hash:
            return
    with suppress(FramesError), open_frames(made) as file:
        before = replace(Reopened(file).layout, text=file.texts.get("layout", ""))
        for lost in forgotten(before, layout):
            yield f"wished before, and not in {shown(task.layout)} any more: {lost}"


def _hashes(task: Task) -> dict[str, str]:
    """What the present frames of a task were made of; nothing where there are none, or they do not say."""
    try:
        return said(task.out).hashes if Path(task.out).is_file() else {}
    except FramesError:
        return {}


def warm(show: Show) -> None:
    """Compile, or load, every kernel that the show needs, while no other process compiles any.

    Several processes that fill numba's cache at once each do the whole work, and may read what another has half
    written.
    """
    from eavesong.files import user_cache

    with held(user_cache() / f".kernels{LOCK}"):
        from eavesong.kernels.calls import sample
        from eavesong.kernels.store import compiled
        from eavesong.language.emit import emit

        sample.ready()
        for name, blend in {(cue.effect, cue.blend): None for cue in show.cues}:
            effect = show.effects[name]
            compiled(emit(effect.program, effect.title, blend))


def end_with(lock: Path) -> None:
    """End this process soon after whoever holds ``lock`` is gone: orphans would work on for nobody.

    A lock, as no system keeps one for a process that is no more, and not every one tells when a parent goes.
    """
    if _watching:
        return
    _watching.append(threading.Thread(target=_watch, args=(lock,), daemon=True))
    _watching[0].start()


_watching: list[threading.Thread] = []


def _watch(lock: Path) -> None:
    from filelock import FileLock

    try:
        FileLock(lock, fallback_to_soft=False).acquire(poll_interval=PATIENCE)
    except OSError as fault:
        if fault.errno in NO_LOCKS:
            return
    os._exit(1)
