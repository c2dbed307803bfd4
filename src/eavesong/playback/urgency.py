"""Being woken on time: what the system gives the thread that sends, what it would have to be granted, and how.

Nothing here is needed for playing. What a system does not have is passed over; what it has and withholds is told.
"""

from __future__ import annotations

import contextlib
import ctypes
import gc
import os
import shutil
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

SWITCH = 0.0005
"""Seconds after which a thread that reads or decodes hands over to the one that sends."""
PR_SET_TIMERSLACK = 29
"""prctl(2)."""
MCL_CURRENT, MCL_FUTURE, MCL_ONFAULT = 1, 2, 4
"""mlockall(2): what is there, what comes, and nothing before it is used."""
RTKIT = ("org.freedesktop.RealtimeKit1", "/org/freedesktop/RealtimeKit1", "org.freedesktop.RealtimeKit1")
RTKIT_LIMIT = 200_000
"""Microseconds without a pause that rtkit lets a real-time thread run at most (RTTimeUSecMax of rtkit 0.13)."""
SENDING, HELPING = 1, 0
"""How far above the lowest real-time priority the thread that sends runs, and those that help it."""
PATIENCE = 2.0
"""Seconds that rtkit may take to answer."""

FIRST = (
    "this system does not let the sending thread run before other programs: while the computer is busy, frames leave "
    "some milliseconds late. To grant it, put LimitRTPRIO=2 into the service's unit, or the line '{user} - rtprio 2' "
    "into /etc/security/limits.d/eavesong.conf and log in again"
)
LOCKED = (
    "this system may move parts of eavesong out to the disk, and fetching them back delays frames. To forbid it, put "
    "LimitMEMLOCK=infinity into the service's unit, or the line '{user} - memlock unlimited' into "
    "/etc/security/limits.d/eavesong.conf and log in again"
)


@contextlib.contextmanager
def undisturbed() -> Iterator[tuple[str, ...]]:
    """Keep this program from disturbing its own sending; yields, in sentences, what the system withholds.

    What is loaded by now stays out of garbage collection, which would halt a frame; threads hand over quickly; sleeps
    end when they are over; memory stays in memory.
    """
    before = sys.getswitchinterval()
    gc.collect()
    gc.freeze()
    sys.setswitchinterval(SWITCH)
    _wake_exactly()
    try:
        yield tuple(_missing())
    finally:
        sys.setswitchinterval(before)
        gc.unfreeze()
        with contextlib.suppress(OSError, AttributeError, TypeError):
            ctypes.CDLL(None).munlockall()


@contextlib.contextmanager
def first_in_line() -> Iterator[None]:
    """Have this thread woken before other programs' while the block runs, where the system allows that (sched(7)).

    The lowest real-time priority but one, or the lowest: this thread sleeps most of the time, and Linux leaves a
    twentieth of the time to everything else whatever happens. Without the right, rtkit is asked where there is one.
    """
    if undo := _real_time(SENDING) or _real_time(HELPING):
        try:
            yield
        finally:
            undo()
    elif threading.current_thread() is threading.main_thread() and _rtkit_is_there():
        with _by_rtkit():
            yield
    else:
        yield


def close_behind() -> None:
    """Let this thread, which helps the one that sends, run before other programs too for as long as it lives, and after
    that one.

    Python's threads share a lock. One that holds it and does not get a processor holds up the others, whatever they are
    allowed.
    """
    if _real_time(SENDING):  # else both would be of one priority
        _real_time(HELPING)


def _missing() -> Iterator[str]:
    if not hasattr(os, "sched_setscheduler"):  # not a system whose rights we know
        return
    import getpass

    user = "*"
    with contextlib.suppress(Exception):  # no name for this user: KeyError, ImportError or OSError
        user = getpass.getuser()
    if undo := _real_time(SENDING) or _real_time(HELPING):
        undo()
    elif not _rtkit_is_there():
        yield FIRST.format(user=user)
    if not _lock_memory() and _may_swap():
        yield LOCKED.format(user=user)


def _real_time(above: int) -> Callable[[], None] | None:
    """Take a real-time priority so far ``above`` the lowest; what undoes it, or None where that is not allowed."""
    try:
        policy, parameters = os.sched_getscheduler(0), os.sched_getparam(0)
        wanted = os.sched_param(os.sched_get_priority_min(os.SCHED_RR) + above)
        os.sched_setscheduler(0, os.SCHED_RR | os.SCHED_RESET_ON_FORK, wanted)
    except (OSError, AttributeError):
        return None
    return lambda: _calm_down(policy, parameters)


def _calm_down(policy: int, parameters: os.sched_param) -> None:
    """Give the priority back; the mark that children do not inherit it stays, only root may take it off (sched(7))."""
    with contextlib.suppress(OSError):
        os.sched_setscheduler(0, policy | os.SCHED_RESET_ON_FORK, parameters)


@contextlib.contextmanager
def _by_rtkit() -> Iterator[None]:
    """Have rtkit give this thread real-time priority; the song does not wait for the answer.

    The system ends a program that runs on beyond rtkit's limit. Before that it sends SIGXCPU, and we take our ease.
    """

    def take_ease(*_: object) -> None:
        """Give real-time priority up before the system ends the program."""
        _calm_down(os.SCHED_OTHER, os.sched_param(0))

    before = signal.signal(signal.SIGXCPU, take_ease)
    asking = threading.Thread(target=_ask_rtkit, args=(threading.get_native_id(),), daemon=True)
    asking.start()
    try:
        yield
    finally:
        asking.join(PATIENCE)
        take_ease()
        signal.signal(signal.SIGXCPU, before)


def _rtkit_is_there() -> bool:
    """Whether a D-Bus client and the service are (asking it for a number starts it)."""
    if not shutil.which("busctl"):
        return False
    return _busctl("get-property", *RTKIT, "MaxRealtimePriority")


def _ask_rtkit(thread: int) -> None:
    """Ask for real-time priority for ``thread``. It demands a limit on how long that may run without a pause."""
    import resource

    limit = (RTKIT_LIMIT // 2, RTKIT_LIMIT)
    with contextlib.suppress(OSError, ValueError):
        resource.setrlimit(resource.RLIMIT_RTTIME, limit)
    _busctl("call", *RTKIT, "MakeThreadRealtimeWithPID", "ttu", str(os.getpid()), str(thread), "1")


def _busctl(*words: str) -> bool:
    command = ["busctl", "--system", f"--timeout={PATIENCE:g}", *words]
    try:
        done = subprocess.run(command, capture_output=True, timeout=PATIENCE + 1, stdin=subprocess.DEVNULL)
    except (OSError, subprocess.SubprocessError):
        return False
    return done.returncode == 0


def _wake_exactly() -> None:
    """No slack for timers of this thread: Linux lets sleeps run 50 µs over, to wake for several at once."""
    with contextlib.suppress(OSError, AttributeError, TypeError):
        ctypes.CDLL(None).prctl(PR_SET_TIMERSLACK, 1, 0, 0, 0)


def _lock_memory() -> bool:
    """Keep our memory from being moved to the disk, if there is no limit on that: beneath one, memory would run out."""
    import resource

    try:
        unlimited = resource.getrlimit(resource.RLIMIT_MEMLOCK)[0] == resource.RLIM_INFINITY
        return (unlimited or os.geteuid() == 0) and not ctypes.CDLL(None).mlockall(
            MCL_CURRENT | MCL_FUTURE | MCL_ONFAULT
        )
    except (OSError, AttributeError, TypeError):
        return False


def _may_swap() -> bool:
    """Whether the system has a place to move memory to (proc(5))."""
    try:
        return len(Path("/proc/swaps").read_text(encoding="utf-8").splitlines()) > 1
    except OSError:
        return False
