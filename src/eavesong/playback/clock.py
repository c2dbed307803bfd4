"""What time it is: the computer's clocks, and the song's."""

from __future__ import annotations

import time
from datetime import datetime, tzinfo
from typing import Protocol


class Time(Protocol):
    """The computer's clocks; another one stands in for them where hours are to pass quickly."""

    def monotonic(self) -> float:
        """Seconds that never jump."""
        ...

    def sleep(self, seconds: float) -> None:
        """Let ``seconds`` pass; none when negative."""
        ...

    def wall(self, zone: tzinfo | None = None) -> datetime:
        """Date and time of day, which jump when somebody sets the clock."""
        ...


class SystemTime:
    """The clocks of the operating system."""

    def monotonic(self) -> float:
        """CLOCK_MONOTONIC in seconds."""
        return time.monotonic()

    def sleep(self, seconds: float) -> None:
        """``time.sleep``, without an error for a moment that has passed."""
        if seconds > 0:
            time.sleep(seconds)

    def wall(self, zone: tzinfo | None = None) -> datetime:
        """Date and time of day in ``zone``, or where the computer stands."""
        return datetime.now(zone) if zone else datetime.now().astimezone()


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
