"""Being told to stop: SIGINT, SIGTERM and SIGHUP end the show in good order; a second SIGINT ends it at once."""

from __future__ import annotations

import contextlib
import signal
import threading
from collections.abc import Iterator
from types import FrameType


class Stop:
    """Whether somebody asked to stop, and how. Looked at after every sleep, so that nothing is cut in half."""

    def __init__(self) -> None:
        self.asked = False
        self.signal = 0

    def ask(self, number: int = 0, frame: FrameType | None = None) -> None:
        """A signal handler. Sets a flag only: what runs at that moment may hold a lock."""
        if self.asked and number == signal.SIGINT:
            raise KeyboardInterrupt
        self.asked = True
        self.signal = self.signal or number

    @property
    def interrupted(self) -> bool:
        """Whether it was from the keyboard."""
        return self.signal == signal.SIGINT


@contextlib.contextmanager
def stop_on_signals() -> Iterator[Stop]:
    """A ``Stop`` that the process's signals set, for as long as the block runs; only in the main thread do they."""
    stop = Stop()
    before = {}
    if threading.current_thread() is threading.main_thread():
        for name in ("SIGINT", "SIGTERM", "SIGHUP"):
            if number := getattr(signal, name, None):
                before[number] = signal.signal(number, stop.ask)
    try:
        yield stop
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
