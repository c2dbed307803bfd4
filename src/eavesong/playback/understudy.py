"""Stepping in for the thread that plays while something holds that up: signs of life, and the end when it is asked for.

A song on a disk that does not answer, a sound device that does not open: the thread that plays may be held up where no
signal of Python's reaches it. The streams must not depend on that.
"""

from __future__ import annotations

import contextlib
import select
import signal
import socket
import threading
from collections.abc import Iterator
from typing import TYPE_CHECKING

from eavesong.playback.clock import SystemTime
from eavesong.playback.sender import END_GAP, LAST_PACKETS, TICK
from eavesong.playback.urgency import close_behind

if TYPE_CHECKING:
    from eavesong.playback.clock import Time
    from eavesong.playback.sender import Sender
    from eavesong.playback.stop import Stop

GRACE = 0.6
"""Seconds that the thread that plays has to end the streams when asked to stop; with the gaps between the last packets
everything is over within a second."""
assert GRACE + 2 * TICK + LAST_PACKETS * END_GAP < 1.0
SILENCE = 0.95
"""Seconds of silence after which signs of life are sent in its place: later than it sends them itself, and before the
second is over that E1.31-2018, 6.6.2, allows."""


class Understudy:
    """Watches over ``sender`` from a thread of its own until ``close``."""

    def __init__(self, sender: Sender, stop: Stop, time: Time) -> None:
        self._sender = sender
        self._stop = stop
        self._time = time
        self._asked_at: float | None = None
        self._hearing, self._telling = socket.socketpair()
        self._hearing.setblocking(False)
        self._telling.setblocking(False)
        self._closed = False
        self._before = -1
        if threading.current_thread() is threading.main_thread():
            # The system's own handler writes the signal's number there, whatever the main thread is doing.
            self._before = signal.set_wakeup_fd(self._telling.fileno(), warn_on_full_buffer=False)
        self._thread = threading.Thread(target=self._watch, name="understudy", daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Stop watching."""
        self._closed = True
        if threading.current_thread() is threading.main_thread():
            signal.set_wakeup_fd(self._before)
        with contextlib.suppress(OSError):
            self._telling.send(b"\0")
        self._thread.join()
        self._hearing.close()
        self._telling.close()

    def _watch(self) -> None:
        close_behind()
        while not self._closed:
            if select.select([self._hearing], [], [], TICK)[0]:
                self._note(self._hearing.recv(64))
            self.look(self._time.monotonic())

    def _note(self, numbers: bytes) -> None:
        if any(number in self._stop.heeded for number in numbers):
            self._asked_at = self._asked_at or self._time.monotonic()

    def look(self, now: float) -> None:
        """Do what is overdue: end the streams, or show signs of life."""
        if self._stop.asked and self._asked_at is None:
            self._asked_at = now
        if self._asked_at is not None and now - self._asked_at >= GRACE:
            self._stop.asked = True
            self._sender.close()
        else:
            self._sender.keep_alive(now, SILENCE)


@contextlib.contextmanager
def understudied(sender: Sender, stop: Stop, time: Time) -> Iterator[None]:
    """Have an understudy for as long as the block runs; time that is simulated holds nobody up, and has none."""
    if not isinstance(time, SystemTime):
        yield
        return
    understudy = Understudy(sender, stop, time)
    try:
        yield
    finally:
        understudy.close()
