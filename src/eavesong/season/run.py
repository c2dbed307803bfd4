"""A batch from its setlist to its report."""

from __future__ import annotations

import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path

from eavesong.errors import EavesongError
from eavesong.frames.guard import refuse_foreign
from eavesong.leftovers import clear_left
from eavesong.processors import processors
from eavesong.season.fresh import judged
from eavesong.season.look import kept_look
from eavesong.season.named import doubts
from eavesong.season.plan import Plan, Task, plan_batch
from eavesong.season.remarks import Remark
from eavesong.season.said import is_sound, said
from eavesong.season.space import estimate, refuse_if_full, seconds_of
from eavesong.season.watch import Progress
from eavesong.season.work import UP_TO_DATE, Outcome, failed, reason_of

LOST = "the Dask scheduler at '{}' was lost. Start it and run the batch again, or add --fall-back-local"


@dataclass(frozen=True)
class Finished:
    """A batch that has come to its end."""

    setlist: Path
    outcomes: tuple[Outcome, ...]
    """In the order of the setlist."""
    seconds: float
    workers: str
    """How many, or the cluster they belong to."""
    tasks: tuple[Task, ...] = ()
    """What each outcome became of."""
    idle: tuple[str, ...] = ()
    """What is wrong with the look between the songs, see `eavesong.season.idle.idle_outdated`."""
    doubts: tuple[str, ...] = ()
    """What is odd with the setlist itself, see `eavesong.season.named.doubts`, and with wishes that mean other colours
    in each show; it may be meant."""

    @property
    def all_well(self) -> bool:
        """Whether every song is rendered or up to date, and nothing grave was found in any or between them."""
        return not self.idle and not any(outcome.status == "failed" or outcome.grave for outcome in self.outcomes)


def run_batch(
    setlist: str | Path,
    *,
    workers: int | None = None,
    cluster: str | None = None,
    fall_back_local: bool = False,
    again: bool = False,
    overwrite: bool = False,
    ignore_space: bool = False,
    say: Callable[[str], None] | None = None,
    live: bool = False,
) -> Finished:
    """Render what is due of the setlist, on this machine or on the Dask cluster at ``cluster``.

    workers: processes on this machine; as many as processors where None.
    fall_back_local: go on here when the cluster's scheduler is lost on the way; else its songs fail.
    again: redo what is up to date. overwrite: take the place of files that eavesong did not write. ignore_space: do not
    refuse for want of room on the disk. say: takes lines that tell how it goes; live: whether they may be drawn over.
    Killed at any moment and run again, it goes on where it was. Raises EavesongError of the kind that fits when the
    setlist, a show, a house, the place for the frames or the cluster cannot be used; what is wrong with a song stands
    in its outcome.
    """
    began = time.perf_counter()
    workers = workers or processors()
    plan = plan_batch(setlist, again=again, overwrite=overwrite, say=say or (lambda line: None))
    outcomes = {number: failed(plan.tasks[number], fault) for number, fault in plan.faults.items()}
    due, unseen = _due(plan, outcomes)
    seconds = {task.number: seconds_of(task.song) for task in due}
    if due and not ignore_space:
        refuse_if_full(estimate(plan, due, seconds))
    watch = Progress(plan.tasks, say or (lambda line: None), live, seconds)
    for number in sorted(outcomes):
        watch.finished(outcomes[number], told=number in plan.faults)

    def done(outcome: Outcome) -> None:
        """Note the outcome of a song, and tell it once."""
        if earlier := outcomes.get(outcome.number):  # rendered by a cluster; looked at here
            outcome = replace(earlier, findings=outcome.findings, page=outcome.page, status=outcome.status
                              if outcome.status == "failed" else earlier.status)  # fmt: skip
        outcomes[outcome.number] = outcome
        if earlier is None or outcome.status == "failed":
            watch.finished(outcome)

    try:
        if due and cluster is not None:
            due = _on_cluster(plan, due, cluster, fall_back_local, done, watch)
            unseen += [task for task in plan.tasks if task not in due and _is_unseen(plan, task, outcomes)]
        if due or unseen:
            from eavesong.season.local import run_local

            run_local([*due, *unseen], workers, done, watch.seen)
    finally:
        watch.end()
    for folder in {Path(task.out).parent for task in plan.tasks}:
        clear_left(folder)  # what workers that were killed meanwhile had begun
    ordered = tuple(outcomes[task.number] for task in plan.tasks)
    from eavesong.season.idle import idle_outdated

    took, idle = time.perf_counter() - began, tuple(idle_outdated(plan.setlist))
    odd = (*doubts(plan.setlist), *plan.apart)
    return Finished(Path(setlist), ordered, took, cluster or str(workers), plan.tasks, idle, odd)


def _on_cluster(
    plan: Plan, due: list[Task], cluster: str, fall_back_local: bool, done: Callable[[Outcome], None], watch: Progress
) -> list[Task]:
    """Do the tasks on the cluster; those that are left to do here."""
    from eavesong.season.cluster import run_cluster

    due = run_cluster(plan, due, cluster, done, watch.seen)
    if due and not fall_back_local:
        for task in due:
            done(failed(task, LOST.format(cluster)))
        return []
    if due:
        watch.tell(f"lost        the Dask scheduler at '{cluster}'; {len(due)} of the songs are done here")
    return due


def _is_unseen(plan: Plan, task: Task, outcomes: dict[int, Outcome]) -> bool:
    """Whether a task's frames are there, and have been touched, have not been looked at, or want their page."""
    if task.number not in outcomes or outcomes[task.number].status == "failed":
        return False
    try:
        return not is_sound(task.out) or kept_look(said(task.out), task, plan.layouts[task.layout]) is None
    except EavesongError:
        return True


def _due(plan: Plan, outcomes: dict[int, Outcome]) -> tuple[list[Task], list[Task]]:
    """The tasks that have to be rendered, and those whose frames have to be looked at.

    The others get their outcome: up to date, or a song that cannot be read.
    """
    tasks = [task for task in plan.tasks if task.number not in outcomes]
    due, unseen = [], []
    with ThreadPoolExecutor(2) as pool:
        for task, reason, fault, notes in pool.map(lambda task: _judged(plan, task), tasks):
            if fault:
                outcomes[task.number] = failed(task, fault)
            elif reason:
                due.append(task)
            elif notes is None:
                unseen.append(task)
            else:
                outcomes[task.number] = Outcome(
                    task.number, task.name, task.out, "up to date", UP_TO_DATE, asked=task.order.terms.in_words(),
                    notes=task.kept, findings=notes, page=task.page,
                )  # fmt: skip
    return due, unseen


def _judged(plan: Plan, task: Task) -> tuple[Task, str, str, tuple[Remark, ...] | None]:
    """The task on its terms, why it is due, what is wrong with its song or in the place of its frames, and what has
    been said of its frames."""
    layout = plan.layouts[task.layout]
    try:
        others = frozenset(Path(other.out).parent for other in plan.tasks)
        task, due, told = judged(task, plan.shows[task.show], layout, others)
        if due or told is None:
            refuse_foreign(task.out, task.overwrite)
            return task, due, "", None
        return task, "", "", kept_look(told, task, layout) if is_sound(task.out) else None
    except EavesongError as fault:
        return task, "", reason_of(fault), None
