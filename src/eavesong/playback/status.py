"""Seeing it work: a line that lives on a terminal, and a log of JSON lines."""

from __future__ import annotations

import json
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

from eavesong.words import clock_text

if TYPE_CHECKING:
    from eavesong.playback.clock import Time

WIDTH = 79
STATE_EVERY = 60.0
"""Seconds between the states that the log is given while nothing happens: about 1 MB a week."""


@dataclass
class State:
    """What the live line shows, changed in place while playing."""

    song: str = ""
    position: float = 0.0
    """Seconds into the song."""
    length: float = 0.0
    """Seconds; 0 for a look that goes on."""
    bar: int = 0
    """From 1; 0 where it is not known."""
    frame: int = 0
    late: int = 0
    """Frames that were skipped because their moment had passed."""
    sent: int = 0
    dropped: int = 0
    off: int = 0
    """Controllers that cannot be reached."""


class Status:
    """Tells what happens: to a terminal (one line, rewritten), to plain output (events only), to a log file."""

    def __init__(self, time: Time, *, log: Path | None = None, out: IO[str] | None = None, quiet: bool = False) -> None:
        self.state = State()
        self._time = time
        self._out = out or sys.stderr
        self._quiet = quiet
        self._live = not quiet and self._out.isatty()
        self._shown = False
        self._last_state = 0.0
        self._log: IO[str] | None = open_log(log) if log else None

    def event(self, kind: str, text: str, **details: Any) -> None:
        """Something happened: ``kind`` is a word for programs, ``text`` a sentence for people."""
        if not self._quiet:
            self._clear()
            self._print(f"{self._time.wall():%H:%M:%S}  {plain(text)}\n")
        self._write({"event": kind, "text": text, **details})

    def show(self) -> None:
        """The state has changed: rewrite the line, and once a minute the log."""
        if self._live:
            self._print("\r" + line(self.state).ljust(WIDTH)[:WIDTH])
            self._shown = True
        now = self._time.monotonic()
        if now - self._last_state >= STATE_EVERY:
            self._last_state = now
            state = self.state
            self._write({
                "event": "state", "song": state.song, "position": round(state.position, 3), "bar": state.bar,
                "frame": state.frame, "late": state.late, "sent": state.sent, "dropped": state.dropped,
            })  # fmt: skip

    def close(self) -> None:
        """End the line and the log."""
        self._clear()
        if self._log is not None:
            self._log.close()

    def _clear(self) -> None:
        if self._shown:
            self._print("\r" + " " * WIDTH + "\r")
            self._shown = False

    def _print(self, text: str) -> None:
        """To people, who may have gone: a terminal that was closed must not stop the lights."""
        try:
            self._out.write(text)
            self._out.flush()
        except (OSError, ValueError):
            self._quiet, self._live = True, False

    def _write(self, record: dict[str, Any]) -> None:
        if self._log is None:
            return
        stamp = self._time.wall().isoformat(timespec="milliseconds")
        try:
            self._log.write(json.dumps({"time": stamp, **record}, ensure_ascii=False) + "\n")
            self._log.flush()
        except OSError:  # a full disk: the lights go on, the log when there is room again
            return


def open_log(path: Path) -> IO[str]:
    """The log, open for more lines. Raises OutputError when it cannot be written."""
    from eavesong.errors import OutputError, Problem

    try:
        return open(path, "a", encoding="utf-8")
    except OSError as fault:
        raise OutputError(Problem(str(path), "", f"cannot be written: {fault.strerror or fault}")) from None


def line(state: State) -> str:
    """The state in one line; the song's title gets what the rest leaves of 79 letters, and at least 8."""
    where = clock_text(max(0.0, state.position), 0) + (f"/{clock_text(state.length, 0)}" if state.length else "")
    bar = f"  bar {state.bar}" if state.bar else ""
    counts = f"frame {state.frame}  late {state.late}  sent {state.sent}  dropped {state.dropped}"
    rest = f"  {where}{bar}  {counts}" + (f"  {state.off} off" if state.off else "")
    song, room = plain(state.song), max(8, WIDTH - len(rest))
    return (song if len(song) <= room else song[: room - 1] + "…") + rest


def plain(text: str) -> str:
    """``text`` without what would command a terminal: titles come out of files that come from strangers."""
    return "".join(letter if letter.isprintable() or letter == "\n" else " " for letter in text)
