"""Telling without waiting: what is said is written by a thread of its own, and dropped where nobody takes it."""

from __future__ import annotations

import queue
import threading
from pathlib import Path
from typing import IO, Protocol

from eavesong.errors import OutputError, Problem
from eavesong.playback.urgency import close_behind

ROOM = 500
"""Texts that wait to be written at most; a terminal that stands still must not fill the memory."""
PATIENCE = 1.0
"""Seconds without a single text written after which the end does not wait for the rest."""


class Paper(Protocol):
    """What a teller writes on."""

    def write(self, text: str) -> bool:
        """Write ``text``, however long that takes; whether all of it was written."""
        ...

    def close(self) -> None:
        """Close what was opened."""
        ...


class Teller:
    """Writes on a ``paper`` what it is told. Whoever tells never waits: what finds no room is dropped and counted."""

    def __init__(self, paper: Paper, room: int = ROOM) -> None:
        self.lost = 0
        """Texts that were dropped, or could not be written."""
        self._paper = paper
        self._room = room
        self._texts: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        self._done = 0
        self._thread = threading.Thread(target=self._write_all, name="teller", daemon=True)
        self._thread.start()

    @property
    def waiting(self) -> int:
        """Texts that are still to be written."""
        return self._texts.qsize()

    def tell(self, text: str) -> bool:
        """Have ``text`` written; False when there is no room for it."""
        if self.waiting >= self._room:
            self.lost += 1
            return False
        self._texts.put(text)
        return True

    def close(self) -> bool:
        """Write what still waits for as long as something gets written; whether all of it was."""
        self._texts.put(None)
        done = -1
        while self._thread.is_alive() and done < self._done:
            done = self._done
            self._thread.join(PATIENCE)
        return not self._thread.is_alive()

    def _write_all(self) -> None:
        close_behind()
        while (text := self._texts.get()) is not None:
            self.lost += not self._paper.write(text)
            self._done += 1
        self._paper.close()


class Screen:
    """A terminal, or what stands in for it. Once it is gone nothing more is written there."""

    def __init__(self, out: IO[str]) -> None:
        self._out = out
        # Past Python's own buffer: its lock would be held while the terminal stands still, and the interpreter cannot
        # end without it.
        self._raw = getattr(getattr(out, "buffer", None), "raw", None)
        self._gone = False

    def write(self, text: str) -> bool:
        """Write ``text`` at once; whether the terminal took it."""
        if self._gone:
            return False
        try:
            if self._raw is None:
                self._out.write(text)
                self._out.flush()
            else:
                self._write_raw(text.encode(getattr(self._out, "encoding", "utf-8"), "backslashreplace"))
        except (OSError, ValueError):
            self._gone = True
        return not self._gone

    def _write_raw(self, octets: bytes) -> None:
        while octets:
            octets = octets[self._raw.write(octets) or len(octets) :]  # type: ignore[union-attr]

    def close(self) -> None:
        """It was open before, and stays open."""


class LogFile:
    """A file that grows by lines. A full disk costs lines, and the next that fits begins a line of its own.

    Raises OutputError when the file cannot be opened.
    """

    def __init__(self, path: Path) -> None:
        self._torn = False
        try:
            self._file = open(path, "ab", buffering=0)  # noqa: SIM115
        except OSError as fault:
            raise OutputError(Problem(str(path), "", f"cannot be written: {fault.strerror or fault}")) from None

    def write(self, text: str) -> bool:
        """Append ``text``, a whole line; whether it is all there."""
        octets = b"\n" * self._torn + text.encode(errors="backslashreplace")
        try:
            written = self._file.write(octets)
        except OSError:
            return False
        self._torn = written < len(octets)
        return not self._torn

    def close(self) -> None:
        """Close the file."""
        self._file.close()
