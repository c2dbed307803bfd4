"""The clocks of the operating system, and signals."""

import itertools
import os
import signal
import threading
import time
from zoneinfo import ZoneInfo

import pytest

from eavesong.playback import clock as clock_module
from eavesong.playback.clock import SPIN, SongClock, SystemTime, a_core_is_free
from eavesong.playback.stop import Stop, stop_on_signals
from playback.helpers import SimTime


@pytest.mark.parametrize("free", [True, False])
def test_sleep_never_ends_too_early(free: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clock_module, "a_core_is_free", lambda: free)
    clock = SystemTime()
    before = clock.monotonic()
    clock.sleep(0.02)
    assert clock.monotonic() - before >= 0.02
    clock.sleep(-1.0)


def test_the_end_of_a_sleep_is_spent_looking_at_the_clock_where_a_core_is_free(monkeypatch: pytest.MonkeyPatch) -> None:
    slept: list[float] = []
    ticks = itertools.count()
    monkeypatch.setattr(time, "sleep", slept.append)
    monkeypatch.setattr(time, "monotonic", lambda: next(ticks) * 1e-4)
    for free in (True, False):
        monkeypatch.setattr(clock_module, "a_core_is_free", lambda free=free: free)
        SystemTime().sleep(0.02)
    assert slept == [0.02 - SPIN, 0.02]


@pytest.mark.parametrize(("load", "count", "free"), [(0.4, 2, True), (1.2, 2, False), (0.0, 1, False), (2.9, 4, True)])
def test_a_core_is_free_where_fewer_programs_than_cores_run(
    load: float, count: int, free: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "getloadavg", lambda: (load, 0.0, 0.0), raising=False)
    monkeypatch.setattr(os, "sched_getaffinity", lambda process: set(range(count)), raising=False)
    assert a_core_is_free() is free


def test_systems_that_do_not_tell_their_load(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delattr(os, "getloadavg", raising=False)
    monkeypatch.delattr(os, "sched_getaffinity", raising=False)
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    assert not a_core_is_free()


def test_waiting_for_an_event() -> None:
    event = threading.Event()
    assert not SystemTime().wait(event, 0.001)
    event.set()
    assert SystemTime().wait(event, 60.0)
    assert SystemTime().wait(event, -1.0)


def test_the_wall_clock_knows_its_zone() -> None:
    clock = SystemTime()
    before = time.time()
    assert before - 1e-3 <= clock.wall().timestamp() <= time.time() + 1e-3
    assert clock.wall(ZoneInfo("Asia/Kathmandu")).utcoffset() == ZoneInfo("Asia/Kathmandu").utcoffset(clock.wall())


def test_a_song_that_nobody_hears_begins_where_it_is_told() -> None:
    simulated = SimTime()
    song = SongClock(simulated, 30.0)
    simulated.sleep(1.5)
    assert song.position() == pytest.approx(31.5)


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP, signal.SIGQUIT])
def test_signals_are_noted_and_handed_back(number: signal.Signals) -> None:
    before = signal.getsignal(number)
    with stop_on_signals() as stop:
        assert not stop.asked
        os.kill(os.getpid(), number)
        assert (stop.asked, stop.interrupted) == (True, number == signal.SIGINT)
    assert signal.getsignal(number) is before


def test_a_hang_up_that_was_to_be_ignored_is() -> None:
    # nohup(1) starts a program with SIGHUP ignored.
    before = signal.signal(signal.SIGHUP, signal.SIG_IGN)
    try:
        with stop_on_signals() as stop:
            os.kill(os.getpid(), signal.SIGHUP)
            assert not stop.asked
            assert signal.SIGHUP not in stop.heeded
    finally:
        signal.signal(signal.SIGHUP, before)


def test_systems_with_fewer_signals(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("SIGHUP", "SIGQUIT", "SIGTTOU"):
        monkeypatch.delattr(signal, name, raising=False)
    with stop_on_signals() as stop:
        assert stop.heeded == {signal.SIGINT, signal.SIGTERM}


def test_whoever_insists_is_heard() -> None:
    """One key press may come twice; a second is somebody's will."""
    seconds = iter([0.0, 0.1, 0.6])
    stop = Stop(lambda: next(seconds))
    stop.ask(signal.SIGINT)
    stop.ask(signal.SIGINT)
    with pytest.raises(KeyboardInterrupt):
        stop.ask(signal.SIGINT)
