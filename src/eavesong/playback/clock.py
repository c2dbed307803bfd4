"""What time it is: the computer's clocks, and the song's."""

from __future__ import annotations

import os
import threading
import time
from datetime import datetime, tzinfo
from typing import Protocol

from eavesong.processors import processors

SPIN = 0.0005
"""Seconds at the end of a sleep in which we look at the clock over and over, since no system wakes anybody to the
microsecond: 2 % of a processor, and only where one has nothing else to do."""


class Time(Protocol):
    """The computer's clocks; another one stands in for them where hours are to pass quickly."""

    def monotonic(self) -> float:
        """Seconds that never jump."""
        ...

    def sleep(self, seconds: float) -> None:
        """Let ``seconds`` pass; none when negative."""
        ...

    def wait(self, event: threading.Event, seconds: float) -> bool:
        """Let ``seconds`` pass, or fewer once ``event`` is set; whether it is."""
        ...

    def wall(self, zone: tzinfo | None = None) -> datetime:
        """Date and time of day, which jump when somebody sets the clock."""
        ...


class SystemTime:
    """The clocks of the operating system."""

    def __init__(self) -> None:
        self._spin = 0.0
        self._look_again = 0.0

    def monotonic(self) -> float:
        """CLOCK_MONOTONIC in seconds."""
        return time.monotonic()

    def sleep(self, seconds: float) -> None:
        """``time.sleep``, without an error for a moment that has passed.

        Where there is one, that is clock_nanosleep(2) to a moment of CLOCK_MONOTONIC, as exact as timerfd_create(2).
        """
        now = time.monotonic()
        if now >= self._look_again:
            self._look_again = now + 1.0
            self._spin = SPIN if a_core_is_free() else 0.0
        if seconds > self._spin:
            time.sleep(seconds - self._spin)
        while self._spin and time.monotonic() < now + seconds:
            pass

    def wait(self, event: threading.Event, seconds: float) -> bool:
        """``event.wait``."""
        return event.wait(max(0.0, seconds))

    def wall(self, zone: tzinfo | None = None) -> datetime:
        """Date and time of day in ``zone``, or where the computer stands."""
        return datetime.now(zone) if zone else datetime.now().astimezone()


def a_core_is_free() -> bool:
    """Whether there is a processor with nothing else to do: fewer programs than processors wanted to run of late."""
    count = processors()
    try:
        return os.getloadavg()[0] < count - 1
    except (OSError, AttributeError):  # a system that does not tell
        return count > 2


class Clock(Protocol):
    """Where the song is."""

    fault: str
    """Why it is not heard any more; empty while all is well."""

    def position(self) -> float:
        """Seconds into the song, as heard now."""
        ...

    def close(self) -> None:
        """Stop the song."""
        ...


class SongClock:
    """A song that nobody hears: the monotonic clock from the moment it is made."""

    fault = ""

    def __init__(self, time: Time, start: float = 0.0) -> None:
        self._time = time
        self._zero = time.monotonic() - start

    def position(self) -> float:
        """Seconds into the song."""
        return self._time.monotonic() - self._zero

    def close(self) -> None:
        """Nothing to stop."""
