"""Being told to stop: SIGINT, SIGTERM and their like end the show in good order; a second SIGINT ends it at once."""

from __future__ import annotations

import contextlib
import signal
import threading
import time
from collections.abc import Callable, Iterator
from types import FrameType

ENDS = ("SIGINT", "SIGTERM", "SIGHUP", "SIGQUIT", "SIGBREAK")
"""Signals that ask a program to end, of those that the system has: not all systems have all."""

AGAIN = 0.5
"""Seconds after which a second one is somebody's will: what starts programs for others may pass one key press on twice,
to them and to their group."""


class Stop:
    """Whether somebody asked to stop, and how. Looked at after every sleep, so that nothing is cut in half."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock, self._since = clock, 0.0
        self.asked = False
        self.signal = 0
        self.heeded: frozenset[int] = frozenset()
        """The signals that ask."""

    def ask(self, number: int = 0, frame: FrameType | None = None) -> None:
        """A signal handler. Sets a flag only: what runs at that moment may hold a lock."""
        if self.asked and self.signal and number == signal.SIGINT and self._clock() - self._since >= AGAIN:
            raise KeyboardInterrupt
        if not self.asked:
            self._since = self._clock()
        self.asked = True
        self.signal = self.signal or number

    @property
    def interrupted(self) -> bool:
        """Whether it was from the keyboard."""
        return self.signal == signal.SIGINT


@contextlib.contextmanager
def stop_on_signals() -> Iterator[Stop]:
    """A ``Stop`` that the process's signals set, for as long as the block runs; only in the main thread do they.

    A hang-up that whoever started us had ignored (nohup) stays ignored. So is SIGTTOU, which would halt a program in
    the background that writes to a terminal set to `tostop`.
    """
    stop = Stop()
    before = {}
    if threading.current_thread() is threading.main_thread():
        for name in ENDS:
            number = getattr(signal, name, None)
            if number and not (name == "SIGHUP" and signal.getsignal(number) == signal.SIG_IGN):
                before[number] = signal.signal(number, stop.ask)
        stop.heeded = frozenset(map(int, before))
        if halting := getattr(signal, "SIGTTOU", None):
            before[halting] = signal.signal(halting, signal.SIG_IGN)
    try:
        yield stop
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
