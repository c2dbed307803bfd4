"""The clocks of the operating system, and signals."""

import os
import signal
import time
from zoneinfo import ZoneInfo

import pytest

from eavesong.playback.clock import SongClock, SystemTime
from eavesong.playback.stop import Stop, stop_on_signals


def test_the_monotonic_clock_and_sleep() -> None:
    clock = SystemTime()
    before = clock.monotonic()
    clock.sleep(0.02)
    clock.sleep(-1.0)
    assert 0.019 < clock.monotonic() - before < 1.0


def test_the_wall_clock_knows_its_zone() -> None:
    clock = SystemTime()
    assert abs(clock.wall().timestamp() - time.time()) < 5
    assert clock.wall(ZoneInfo("Asia/Kathmandu")).utcoffset() == ZoneInfo("Asia/Kathmandu").utcoffset(clock.wall())


def test_a_song_that_nobody_hears_begins_where_it_is_told() -> None:
    assert SongClock(SystemTime(), 30.0).position() == pytest.approx(30.0, abs=0.5)


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_signals_are_noted_and_handed_back(number: signal.Signals) -> None:
    before = signal.getsignal(number)
    with stop_on_signals() as stop:
        assert not stop.asked
        os.kill(os.getpid(), number)
        assert (stop.asked, stop.interrupted) == (True, number == signal.SIGINT)
    assert signal.getsignal(number) is before


def test_whoever_insists_is_heard() -> None:
    stop = Stop()
    stop.ask(signal.SIGINT)
    with pytest.raises(KeyboardInterrupt):
        stop.ask(signal.SIGINT)
