"""A batch on one machine: joblib's process pool, one song for each process at a time.

A pool whose worker dies is replaced, and what was under way is begun again: first together with the rest, then
each by itself, so that a song that kills its worker takes no other one down with it.
"""

from __future__ import annotations

import os
import signal
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from eavesong.files import user_cache
from eavesong.heap import one_heap
from eavesong.leftovers import marked_folder
from eavesong.season.locks import held
from eavesong.season.work import Outcome, end_with, failed, work

if TYPE_CHECKING:
    from eavesong.season.plan import Task

Seen = Callable[[int, str, int, int], None]
"""Called with a task's number, its stage, and frames done and in all."""

MOST_ATTEMPTS = 3
NO_WORKERS = f"workers died {MOST_ATTEMPTS} times before they began with any song; what they said stands above"
LOOK = 0.25
"""Seconds between looks at what the workers are doing."""


@dataclass
class Diary:
    """What a worker writes down about one task: a small file, overwritten; read by the parent."""

    folder: str
    number: int
    written: float = 0.0

    def __call__(self, stage: str, done: int, total: int) -> None:
        now = time.monotonic()
        if done and done < total and now - self.written < LOOK:
            return
        self.written = now
        with suppress(OSError):  # what is shown to people is not worth failing for
            Path(self.folder, str(self.number)).write_text(f"{stage} {done} {total}", encoding="utf-8")


ALIVE = "alive"
"""The lock that the command holds for as long as it lives."""


def run_local(tasks: Sequence[Task], workers: int, done: Callable[[Outcome], None], seen: Seen) -> None:
    """Do ``tasks`` with so many worker processes; ``done`` is told each outcome as it comes."""
    attempts: Counter[int] = Counter()
    with _safe(), marked_folder("batch") as marked, held(marked / ALIVE), _watched(folder := str(marked), seen):
        together, barren = list(tasks), 0
        alone: list[Task] = []
        while together or alone:
            if together:
                left, under_way = _round(together, workers, folder, attempts, done)
                barren = barren + 1 if len(left) == len(together) else 0
                if barren == MOST_ATTEMPTS:
                    for task in left:
                        done(failed(task, NO_WORKERS, barren))
                    left = []
                together, alone = left, alone + under_way
                continue
            task = alone.pop(0)
            if attempts[task.number] >= MOST_ATTEMPTS:
                done(failed(task, _gave_up(task), attempts[task.number]))
                continue
            left, again = _round([task], 1, folder, attempts, done)
            attempts.update(task.number for task in left)  # its worker died before it began
            alone += left + again


def _gave_up(task: Task) -> str:
    return f"the worker died each of {MOST_ATTEMPTS} times; perhaps there is too little memory for this song"


def _round(
    tasks: Sequence[Task], workers: int, folder: str, attempts: Counter[int], done: Callable[[Outcome], None]
) -> tuple[list[Task], list[Task]]:
    """Do the tasks until they are done or a worker dies: what is left to do, and what was under way then."""
    from concurrent.futures import as_completed
    from concurrent.futures.process import BrokenProcessPool

    from joblib.externals.loky import get_reusable_executor
    from joblib.externals.loky.backend import resource_tracker

    resource_tracker.ensure_running()  # now: where it is started among the workers, it has them hear SIGINT again

    pool = get_reusable_executor(
        max_workers=min(workers, len(tasks)), timeout=None, env=_surroundings(), kill_workers=True
    )
    waiting = {task.number: task for task in tasks}
    try:
        with _deaf():  # workers, and whoever replaces them, inherit it: Ctrl-C is for this process, which ends them
            futures = {pool.submit(_in_worker, task, folder): task for task in tasks}
        for future in as_completed(futures):
            task = futures[future]
            outcome = future.result()
            del waiting[task.number]
            _forget(folder, task.number)
            done(replace(outcome, attempts=attempts[task.number] + 1))
    except BrokenProcessPool:
        pool.shutdown(wait=True, kill_workers=True)
        under_way = [task for task in waiting.values() if Path(folder, str(task.number)).exists()]
        attempts.update(task.number for task in under_way)
        for task in under_way:
            _forget(folder, task.number)
        return [task for task in waiting.values() if task not in under_way], under_way
    except BaseException:  # told to stop, by whatever signal
        with _deaf(), _quiet_threads():
            pool.shutdown(wait=True, kill_workers=True)
        raise
    pool.shutdown(wait=True)
    return [], []


_SINGLE = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS"), "1")
"""Each worker keeps to one processor: the songs are what runs side by side."""


def _surroundings() -> dict[str, str]:
    """Environment of the workers: they share one cache, were it only a temporary one."""
    return {**_SINGLE, "EAVESONG_CACHE": str(user_cache())}


SAFE = "PYTHONSAFEPATH"


@contextmanager
def _safe() -> Iterator[None]:
    """Processes that are started meanwhile, workers and those that clean up behind them, import nothing from the folder
    that they are started in, as Python does by itself: a file there, called re.py, would run."""
    before = os.environ.get(SAFE)
    os.environ[SAFE] = "1"
    try:
        yield
    finally:
        if before is None:
            del os.environ[SAFE]
        else:
            os.environ[SAFE] = before


@contextmanager
def _deaf() -> Iterator[None]:
    """SIGINT waits until the block has ended; not on Windows, which has no such thing."""
    mask = getattr(signal, "pthread_sigmask", None)
    if mask is None:
        yield
        return
    before = mask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        mask(signal.SIG_SETMASK, before)


@contextmanager
def _quiet_threads() -> Iterator[None]:
    """The pool's own thread trips over its emptied books when it is stopped half-way: nothing to print."""
    usual = threading.excepthook
    threading.excepthook = lambda fault: None
    try:
        yield
    finally:
        threading.excepthook = usual


def _in_worker(task: Task, folder: str) -> Outcome:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    one_heap(1)
    end_with(Path(folder, ALIVE))
    diary = Diary(folder, task.number)
    diary("reading", 0, 0)
    return work(task, diary)


def _forget(folder: str, number: int) -> None:
    Path(folder, str(number)).unlink(missing_ok=True)


@contextmanager
def _watched(folder: str, seen: Seen) -> Iterator[None]:
    """Look into the diaries now and then, in a thread, and tell ``seen``."""
    over = threading.Event()

    def look() -> None:
        """Read what workers wrote of their progress, until all is over."""
        while not over.wait(LOOK):
            for entry in os.scandir(folder):
                try:
                    stage, done, total = Path(entry.path).read_text(encoding="utf-8").split()
                    seen(int(entry.name), stage, int(done), int(total))
                except (OSError, ValueError):
                    continue  # just being written, or done meanwhile

    thread = threading.Thread(target=look, daemon=True)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()
