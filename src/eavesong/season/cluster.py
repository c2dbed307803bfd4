"""A batch on several machines: the workers of a Dask cluster, one song for each at a time.

Dask itself places tasks and begins them again when a worker dies. Where all workers see the folder that frames go
to, they write there; else each task travels with its files, and its frames come back through Dask.
"""

from __future__ import annotations

import logging
import os
import threading
import time
import uuid
import warnings
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future
from contextlib import contextmanager, suppress
from dataclasses import replace
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import TYPE_CHECKING, Any, TypeVar

from eavesong.errors import EavesongError, OutputError, Problem
from eavesong.files import write_whole
from eavesong.frames.guard import refuse_foreign
from eavesong.leftovers import LOCK, beside, marked_folder
from eavesong.season.locks import held
from eavesong.season.parcel import Parcel, packed, unpacked
from eavesong.season.work import Outcome, failed, reason_of, work

if TYPE_CHECKING:
    from eavesong.season.local import Seen
    from eavesong.season.plan import Plan, Task

_Answer = TypeVar("_Answer")

PATIENCE = 30
"""Seconds to wait for the scheduler, and for the first worker."""
MEET = 20
"""Seconds in which all workers have to say which eavesong they have and what they see."""
ASK = 10
"""Seconds without news after which the scheduler is asked whether it is still there."""
ANSWER = 10
"""Seconds that it may take to answer."""
LOOK = 0.5
"""Seconds between looks at the connection."""


def run_cluster(
    plan: Plan, tasks: Sequence[Task], address: str, done: Callable[[Outcome], None], seen: Seen
) -> list[Task]:
    """Do ``tasks`` on the cluster whose scheduler is at ``address``, such as ``tcp://192.0.2.10:8786``.

    Returns what is left to do where the scheduler is lost on the way, which is known within 30 s; usually nothing.
    Raises EavesongError when Dask is not installed, nobody answers at the address, there is no worker, or a worker
    has no eavesong or another version of it.
    """
    left = {task.number: task for task in tasks}
    topic = f"eavesong batch {uuid.uuid4().hex}"  # of the events that workers tell their progress by: ours alone

    def finished(outcome: Outcome) -> None:
        """Take a song off what is left and hand its outcome on."""
        del left[outcome.number]
        done(outcome)

    with _connected(address) as client, suppress(_LostError):
        with _lost_when_closed():
            _await_workers(client, address)
            shared, places = _in_time(lambda: _met(client, tasks, topic, seen))
        waiting = deque(tasks)
        under_way: dict[str, Task] = {}
        ended: SimpleQueue[Any] = SimpleQueue()
        while waiting or under_way:
            # Only as many as are soon begun: parcels and frames are large, and wait in memory.
            while waiting and len(under_way) <= places:
                with _lost_when_closed():
                    _send(client, plan, waiting.popleft(), shared, topic, under_way, ended)
            future = _next(client, ended)
            finished(_received(future, under_way.pop(future.key), seen))
            future.release()
    return list(left.values())


class _LostError(Exception):
    """The scheduler is gone."""


@contextmanager
def _lost_when_closed() -> Iterator[None]:
    """Turn what Dask raises when it talks to a scheduler that is gone into _LostError."""
    from concurrent.futures import CancelledError

    from distributed.client import ClosedClientError, FutureCancelledError

    try:
        yield
    except (OSError, TimeoutError, CancelledError, ClosedClientError, FutureCancelledError):
        raise _LostError from None


def _in_time(ask: Callable[[], _Answer]) -> _Answer:
    """What ``ask`` gives; TimeoutError where that takes longer than MEET.

    Much of what Dask asks a scheduler takes no limit: it is asked from a thread, which is left where nobody answers.
    """
    answer: Future[_Answer] = Future()

    def run() -> None:
        """Ask, and keep the answer or the fault."""
        try:
            answer.set_result(ask())
        except BaseException as fault:
            answer.set_exception(fault)

    threading.Thread(target=run, daemon=True).start()
    return answer.result(MEET)


def _next(client: Any, ended: SimpleQueue[Any]) -> Any:
    """The future that ends next; _LostError where the scheduler breaks off, or answers no more."""
    asked = time.monotonic()
    while True:
        try:
            future = ended.get(timeout=LOOK)
        except Empty:
            future = None
        if client.status != "running" or (future is not None and future.cancelled()):
            raise _LostError
        if future is not None:
            return future
        if time.monotonic() - asked > ASK:
            with _lost_when_closed():
                client.sync(client.scheduler.identity, callback_timeout=ANSWER)
            asked = time.monotonic()


@contextmanager
def _connected(address: str) -> Iterator[Any]:
    try:
        from distributed import Client
    except ImportError:
        advice = "Install it: pip install 'eavesong[cluster]'."
        raise EavesongError(Problem("--cluster", "", "Dask is not installed", advice)) from None
    try:
        client = Client(address, timeout=PATIENCE, set_as_default=False)
    except (OSError, ValueError, TimeoutError):
        advice = "Start one with 'dask scheduler', and give the address it prints."
        raise EavesongError(Problem("--cluster", "", f"no Dask scheduler answers at '{address}'", advice)) from None
    with warnings.catch_warnings(), _silent("distributed"):
        warnings.filterwarnings("ignore", message="Sending large graph", category=UserWarning)
        try:
            yield client
        finally:
            with suppress(Exception):  # there may be nobody left to take leave of
                _in_time(lambda: client.close(timeout=5))


@contextmanager
def _silent(name: str) -> Iterator[None]:
    """Without what a library logs: what it has to say of a lost scheduler, we say in a line."""
    logs = [logging.getLogger(each) for each in [name, *logging.root.manager.loggerDict] if each.startswith(name)]
    levels = [log.level for log in logs]
    try:
        for log in logs:
            log.setLevel(logging.CRITICAL)
        yield
    finally:
        for log, level in zip(logs, levels, strict=True):
            log.setLevel(level)


def _await_workers(client: Any, address: str) -> None:
    """Raise EavesongError unless there are workers."""
    try:
        client.wait_for_workers(1, timeout=PATIENCE)
    except TimeoutError:
        advice = f"Start some: dask worker {address} --nthreads 1."
        raise EavesongError(Problem("--cluster", "", f"the scheduler at '{address}' has no workers", advice)) from None


def _met(client: Any, tasks: Sequence[Task], topic: str, seen: Seen) -> tuple[bool, int]:
    """Whether all workers share the folders, and for how many tasks at a time there are places."""
    _check_workers(client)
    shared = _is_shared(client, tasks)
    client.subscribe_topic(topic, lambda event: seen(*event[1]))
    return shared, sum(client.nthreads().values())


def _check_workers(client: Any) -> None:
    """Raise EavesongError unless all workers have this version of eavesong."""
    from eavesong.render.origin import made_by

    problems = []
    for worker, found in client.run(_version_there, on_error="return").items():
        if found != made_by():
            other = "another version of eavesong" if isinstance(found, str) else "no eavesong that it can import"
            advice = "Install there what is installed here: the same eavesong, numpy and numba."
            problems.append(Problem("--cluster", "", f"the worker at {worker} has {other}", advice))
    if problems:
        raise EavesongError(problems)


def _version_there() -> str:
    from eavesong.render.origin import made_by

    return made_by()


def _is_shared(client: Any, tasks: Sequence[Task]) -> bool:
    """Whether every worker sees what is written here: tried with a small file in each folder that frames go to."""
    word = uuid.uuid4().hex
    for folder in dict.fromkeys(Path(task.out).parent for task in tasks):
        probe = folder / f".{word}.probe"
        write_whole(probe, word)
        try:
            if not all(client.run(_reads, str(probe), word).values()):
                return False
        finally:
            probe.unlink(missing_ok=True)
    songs = [task.song for task in tasks]
    return all(client.run(_sees_all, songs).values())


def _reads(path: str, word: str) -> bool:
    try:
        return Path(path).read_text(encoding="utf-8") == word
    except OSError:
        return False


def _sees_all(paths: Sequence[str]) -> bool:
    return all(os.path.exists(path) for path in paths)


def _send(
    client: Any, plan: Plan, task: Task, shared: bool, topic: str, under_way: dict[str, Task], ended: SimpleQueue[Any]
) -> None:
    key = f"eavesong-{uuid.uuid4().hex}"
    under_way[key] = task
    if shared:
        future = client.submit(_there, task, topic, key=key, pure=False)
    else:
        future = client.submit(_there_alone, packed(task, plan.shows[task.show]), topic, key=key, pure=False)
    future.add_done_callback(ended.put)


def _there(task: Task, topic: str) -> tuple[Outcome, bytes | None]:
    """A task on a worker that shares the folders."""
    return work(task, _teller(task, topic)), None


def _there_alone(parcel: Parcel, topic: str) -> tuple[Outcome, bytes | None]:
    """A task on a worker that shares nothing: in a folder of its own, and back comes the frames file itself."""
    with marked_folder("parcel") as folder:
        task = unpacked(parcel, folder)
        outcome = work(task, _teller(task, topic))
        return outcome, Path(task.out).read_bytes() if outcome.status == "rendered" else None


def _teller(task: Task, topic: str) -> Callable[[str, int, int], None]:
    """Tells the client how far a task is, a few times a second."""
    from distributed import get_worker

    worker, last = get_worker(), [0.0]

    def tell(stage: str, done: int, total: int) -> None:
        """Tell the scheduler how far a song is, twice a second at most."""
        now = time.monotonic()
        if not done or done == total or now - last[0] > 0.5:
            last[0] = now
            worker.log_event(topic, (task.number, stage, done, total))

    return tell


def _received(future: Any, task: Task, seen: Seen) -> Outcome:
    """The outcome of a finished task; frames that came along are put in their place."""
    from distributed.scheduler import KilledWorker

    outcome: Outcome
    try:
        outcome, frames = future.result()
    except KilledWorker as fault:
        return failed(task, f"{fault.allowed_failures + 1} workers died over it", fault.allowed_failures + 1)
    except Exception as fault:
        return failed(task, f"the cluster could not do it: {type(fault).__name__}: {fault}")
    outcome = replace(outcome, out=task.out)
    if frames is None:
        return outcome
    seen(task.number, "fetching", outcome.frames, outcome.frames)
    try:
        out = Path(task.out)
        refuse_foreign(out, task.overwrite)
        with held(beside(out, LOCK)):
            write_whole(out, frames)
    except OutputError as fault:
        return failed(task, reason_of(fault))
    return outcome
