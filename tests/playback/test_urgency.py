"""What the system gives the thread that sends, and words about what it withholds."""

import gc
import os
import signal
import sys
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from eavesong.playback import urgency
from eavesong.playback.punctuality import Punctuality

RESET_ON_FORK = 0x40000000
OTHER, ROUND_ROBIN = 0, 2
"""sched(7), linux/sched.h."""


class Scheduler:
    """The rules of sched(7) for a thread without CAP_SYS_NICE: real-time priorities need RLIMIT_RTPRIO, and the mark
    that children do not inherit the priority cannot be taken away again."""

    def __init__(self, *, highest: int) -> None:
        self.highest = highest
        self.policy = OTHER
        self.priority = 0
        self.past: list[int] = []

    def set(self, process: int, policy: int, priority: int) -> None:
        if priority > self.highest:
            raise PermissionError(1, "Operation not permitted")
        if self.policy & RESET_ON_FORK and not policy & RESET_ON_FORK:
            raise PermissionError(1, "Operation not permitted")
        self.policy, self.priority = policy, priority
        self.past.append(policy)


Install = Callable[..., Scheduler]


@pytest.fixture
def install(monkeypatch: pytest.MonkeyPatch) -> Install:
    def put(highest: int) -> Scheduler:
        scheduler = Scheduler(highest=highest)
        for name, value in {
            "sched_setscheduler": scheduler.set, "sched_getscheduler": lambda process: scheduler.policy,
            "sched_getparam": lambda process: scheduler.priority, "sched_param": int,
            "sched_get_priority_min": lambda policy: 1, "SCHED_RR": ROUND_ROBIN, "SCHED_OTHER": OTHER,
            "SCHED_RESET_ON_FORK": RESET_ON_FORK,
        }.items():  # fmt: skip
            monkeypatch.setattr(os, name, value, raising=False)
        return scheduler

    monkeypatch.setattr(urgency, "_lock_memory", lambda: True)
    monkeypatch.setenv("PATH", "/nowhere")
    return put


def test_with_the_right_the_thread_goes_first_while_it_plays(install: Install) -> None:
    scheduler = install(2)
    with urgency.first_in_line():
        assert (scheduler.policy, scheduler.priority) == (ROUND_ROBIN | RESET_ON_FORK, 2)
    assert (scheduler.policy & ~RESET_ON_FORK, scheduler.priority) == (OTHER, 0)
    with urgency.undisturbed() as missing:
        assert missing == ()


@pytest.mark.parametrize(("highest", "sending", "helping"), [(9, 2, 1), (2, 2, 1), (1, 1, 0), (0, 0, 0)])
def test_who_helps_comes_after_who_sends(install: Install, highest: int, sending: int, helping: int) -> None:
    scheduler = install(highest)
    with urgency.first_in_line():
        assert scheduler.priority == sending
    urgency.close_behind()
    assert scheduler.priority == helping


def test_without_the_right_it_plays_all_the_same_and_says_how_to_grant_it(install: Install) -> None:
    scheduler = install(0)
    with urgency.undisturbed() as missing, urgency.first_in_line():
        urgency.close_behind()
        assert scheduler.past == []
    (told,) = missing
    assert "LimitRTPRIO=2" in told
    assert "- rtprio 2' into /etc/security/limits.d/" in told


def test_systems_that_have_nothing_of_the_kind(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("sched_setscheduler", "sched_getscheduler", "sched_getparam", "sched_param", "SCHED_RR"):
        monkeypatch.delattr(os, name, raising=False)
    monkeypatch.setitem(sys.modules, "resource", None)
    monkeypatch.setattr(urgency.ctypes, "CDLL", None)
    monkeypatch.setenv("PATH", "/nowhere")
    with urgency.undisturbed() as missing, urgency.first_in_line():
        assert missing == ()


def test_memory_that_may_be_moved_out_is_told(install: Install, monkeypatch: pytest.MonkeyPatch) -> None:
    install(2)
    monkeypatch.setattr(urgency, "_lock_memory", lambda: False)
    for swap, told in ((True, 1), (False, 0)):
        monkeypatch.setattr(urgency, "_may_swap", lambda swap=swap: swap)
        with urgency.undisturbed() as missing:
            assert len(missing) == told
            assert all("LimitMEMLOCK=infinity" in sentence for sentence in missing)


def test_memory_beneath_a_limit_is_not_locked(monkeypatch: pytest.MonkeyPatch) -> None:
    # mlockall(2): with MCL_FUTURE, beneath RLIMIT_MEMLOCK, later allocations fail.
    resource = pytest.importorskip("resource")
    monkeypatch.setattr(resource, "getrlimit", lambda which: (8 << 20, 8 << 20))
    monkeypatch.setattr(os, "geteuid", lambda: 1000)
    monkeypatch.setattr(urgency.ctypes, "CDLL", None)  # not even asked
    assert not urgency._lock_memory()


RTKIT = """#!/bin/sh
echo "$@" >> "{folder}/asked"
"""


@pytest.mark.skipif(os.name != "posix", reason="D-Bus, as rtkit uses it")
def test_rtkit_is_asked_where_there_is_one(tmp_path: Path, install: Install, monkeypatch: pytest.MonkeyPatch) -> None:
    # org.freedesktop.RealtimeKit1.xml of rtkit 0.13: MakeThreadRealtimeWithPID(t process, t thread, u priority).
    import resource

    limits: list[tuple[int, tuple[int, int]]] = []
    monkeypatch.setattr(resource, "setrlimit", lambda which, limit: limits.append((which, limit)))
    scheduler = install(0)
    (tmp_path / "busctl").write_text(RTKIT.format(folder=tmp_path))
    (tmp_path / "busctl").chmod(0o755)
    monkeypatch.setenv("PATH", str(tmp_path))
    with urgency.undisturbed() as missing, urgency.first_in_line():
        pass
    assert missing == ()
    asked = (tmp_path / "asked").read_text().splitlines()
    words = f"MakeThreadRealtimeWithPID ttu {os.getpid()} {threading.get_native_id()} 1"
    assert [line.endswith(words) for line in asked].count(True) == 1
    assert limits == [(resource.RLIMIT_RTTIME, (100_000, 200_000))]
    assert scheduler.past[-1] & ~RESET_ON_FORK == OTHER  # calm again in the end


@pytest.mark.skipif(os.name != "posix", reason="D-Bus, as rtkit uses it")
def test_whoever_runs_for_too_long_is_not_ended(install: Install, monkeypatch: pytest.MonkeyPatch) -> None:
    # setrlimit(2), RLIMIT_RTTIME: SIGXCPU at the soft limit, SIGKILL at the hard one.
    scheduler = install(0)
    monkeypatch.setattr(urgency, "_rtkit_is_there", lambda: True)
    monkeypatch.setattr(urgency, "_ask_rtkit", lambda thread: None)
    before = signal.getsignal(signal.SIGXCPU)
    with urgency.first_in_line():
        scheduler.past.clear()
        os.kill(os.getpid(), signal.SIGXCPU)
        assert scheduler.past == [OTHER | RESET_ON_FORK]
    assert signal.getsignal(signal.SIGXCPU) is before


@pytest.mark.skipif(os.name != "posix", reason="D-Bus, as rtkit uses it")
def test_a_bus_without_rtkit(tmp_path: Path, install: Install, monkeypatch: pytest.MonkeyPatch) -> None:
    install(0)
    (tmp_path / "busctl").write_text("#!/bin/sh\nexit 1\n")
    (tmp_path / "busctl").chmod(0o755)
    monkeypatch.setenv("PATH", str(tmp_path))
    with urgency.undisturbed() as missing:
        assert len(missing) == 1


def test_what_is_loaded_is_not_looked_through_for_garbage(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(urgency, "gc", gc)
    before = sys.getswitchinterval()
    with urgency.undisturbed():
        assert gc.get_freeze_count() > 0
        assert sys.getswitchinterval() == pytest.approx(urgency.SWITCH)
    assert gc.get_freeze_count() == 0
    gc.freeze()  # as it was: see conftest.py
    assert sys.getswitchinterval() == pytest.approx(before)


# --- punctuality ----------------------------------------------------------------------------------------------------


def test_percentiles_to_a_tenth_of_a_millisecond() -> None:
    import numpy as np

    behind = np.random.default_rng(7).gamma(2.0, 0.002, 5000)
    counted = Punctuality()
    for each in behind:
        counted.note(float(each))
    for share in (0.5, 0.9, 0.99):
        # numpy's definition "inverted_cdf" (Hyndman and Fan 1996, type 1) is the one with counts.
        wanted = np.percentile(behind, 100 * share, method="inverted_cdf")
        assert wanted <= counted.percentile(share) <= wanted + 1e-4 + 1e-9
    assert counted.worst == behind.max()


def test_skipped_frames_are_told_beside_jitter() -> None:
    counted = Punctuality()
    assert counted.percentile(0.99) == 0.0
    for _ in range(2598):
        counted.note(0.00025)
    counted.note(0.2, skipped=7)
    assert str(counted) == (
        "2,599 frames sent, 7 skipped as too late; behind their moment: 0.3 ms half of them, 0.3 ms 99 of 100, "
        "200.0 ms the latest"
    )
    assert counted.counts() == {
        "frames": 2599, "skipped": 7, "late_ms_median": 0.3, "late_ms_p99": 0.3, "late_ms_worst": 200.0,
    }  # fmt: skip
    assert counted.percentile(1.0) == 0.2  # beyond the last bin, the worst


def test_a_frame_that_is_early_is_not_late() -> None:
    counted = Punctuality()
    counted.note(-1e-5)
    assert (counted.worst, counted.percentile(1.0)) == (0.0, 0.0)
