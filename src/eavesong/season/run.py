"""A batch from its setlist to its report."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from eavesong.errors import EavesongError
from eavesong.frames.guard import refuse_foreign
from eavesong.season.fresh import judged
from eavesong.season.plan import Plan, Task, plan_batch
from eavesong.season.space import estimate, refuse_if_full, seconds_of
from eavesong.season.watch import Progress
from eavesong.season.work import Outcome, failed, reason_of

UP_TO_DATE = "song, beats, show, effects, layout, what is asked for and version are what they were"

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

    @property
    def all_well(self) -> bool:
        """Whether every song is rendered or up to date."""
        return all(outcome.status != "failed" for outcome in self.outcomes)


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
    workers = workers or os.cpu_count() or 1
    plan = plan_batch(setlist, again=again, overwrite=overwrite)
    outcomes = {number: failed(plan.tasks[number], fault) for number, fault in plan.faults.items()}
    due = _due(plan, outcomes)
    seconds = {task.number: seconds_of(task.song) for task in due}
    if due and not ignore_space:
        refuse_if_full(estimate(plan, due, seconds))
    watch = Progress(plan.tasks, say or (lambda line: None), live, seconds)
    for number in sorted(outcomes):
        watch.finished(outcomes[number])

    def done(outcome: Outcome) -> None:
        outcomes[outcome.number] = outcome
        watch.finished(outcome)

    try:
        if due and cluster is not None:
            from eavesong.season.cluster import run_cluster

            due = run_cluster(plan, due, cluster, done, watch.seen)
            if due and not fall_back_local:
                for task in due:
                    done(failed(task, LOST.format(cluster)))
                due = []
            elif due:
                watch.tell(f"lost        the Dask scheduler at '{cluster}'; {len(due)} of the songs are done here")
        if due:
            from eavesong.season.local import run_local

            run_local(due, workers, done, watch.seen)
    finally:
        watch.end()
    ordered = tuple(outcomes[task.number] for task in plan.tasks)
    return Finished(Path(setlist), ordered, time.perf_counter() - began, cluster or str(workers))


def _due(plan: Plan, outcomes: dict[int, Outcome]) -> list[Task]:
    """The tasks that have to be done; the others get their outcome: up to date, or a song that cannot be read."""
    tasks = [task for task in plan.tasks if task.number not in outcomes]
    due = []
    with ThreadPoolExecutor(2) as pool:
        for task, reason, fault in pool.map(lambda task: _judged(plan, task), tasks):
            if fault:
                outcomes[task.number] = failed(task, fault)
            elif reason:
                due.append(task)
            else:
                outcomes[task.number] = Outcome(task.number, task.name, task.out, "up to date", UP_TO_DATE)
    return due


def _judged(plan: Plan, task: Task) -> tuple[Task, str, str]:
    """The task on its terms, why it is due, and what is wrong with its song or in the place of its frames."""
    try:
        task, due = judged(task, plan.shows[task.show], plan.layouts[task.layout])
        if due:
            refuse_foreign(task.out, task.overwrite)
        return task, due, ""
    except EavesongError as fault:
        return task, "", reason_of(fault)
