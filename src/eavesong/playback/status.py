"""Seeing it work: a line that lives on a terminal, and a log of JSON lines."""

from __future__ import annotations

import json
import sys
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any

from eavesong.playback.punctuality import Punctuality
from eavesong.playback.teller import LogFile, Screen, Teller
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
    end: float = 0.0
    """Seconds into the song at which its frames end; 0 for a look that goes on."""
    bar: int = 0
    """From 1; 0 where it is not known."""
    frame: int = 0
    punctuality: Punctuality = field(default_factory=Punctuality)
    """Of the song that plays."""
    sent: int = 0
    dropped: int = 0
    dropped_before: int = 0
    """Packets dropped before the song that plays."""
    off: int = 0
    """Controllers that cannot be reached."""


class Status:
    """Tells what happens: to a terminal (one line, rewritten), to plain output (events only), to a log file.

    Neither is ever waited for: a terminal that stands still, a full disk or a slow one costs words, not frames.
    """

    def __init__(self, time: Time, *, log: Path | None = None, out: IO[str] | None = None, quiet: bool = False) -> None:
        self.state = State()
        self._time = time
        out = out or sys.stderr
        self._live = not quiet and out.isatty()
        self._shown = False
        self._last_state = 0.0
        self._missing = 0
        self._log = Teller(LogFile(log)) if log else None
        self._screen = None if quiet else Teller(Screen(out))

    def event(self, kind: str, text: str, **details: Any) -> None:
        """Something happened: ``kind`` is a word for programs, ``text`` a sentence for people."""
        self._print(f"{self._time.wall():%H:%M:%S}  {plain(text)}\n")
        self._write({"event": kind, "text": text, **details})

    def show(self) -> None:
        """The state has changed: rewrite the line unless the last one still waits, and once a minute the log."""
        if self._live and self._screen and not self._screen.waiting:
            self._shown = self._screen.tell("\r" + line(self.state).ljust(WIDTH)[:WIDTH]) or self._shown
        now = self._time.monotonic()
        if now - self._last_state >= STATE_EVERY:
            self._last_state = now
            state = self.state
            self._write({
                "event": "state", "song": state.song, "position": round(state.position, 3), "bar": state.bar,
                "frame": state.frame, "sent": state.sent, "dropped": state.dropped, **state.punctuality.counts(),
            })  # fmt: skip

    def close(self) -> None:
        """End the line and the log."""
        self._print("")
        for teller in (self._screen, self._log):
            if teller is not None:
                teller.close()
        self._screen = self._log = None

    def _print(self, text: str) -> None:
        """Say it in place of the line that lives."""
        wiped = "\r" + " " * WIDTH + "\r" if self._shown else ""
        if self._screen and wiped + text and self._screen.tell(wiped + text):
            self._shown = False

    def _write(self, record: dict[str, Any]) -> None:
        """Into the log; and how many lines are missing, once there is room again."""
        if self._log is None:
            return
        if (lost := self._log.lost) > self._missing:
            self._log.tell(self._stamped({"event": "missing", "lines": lost - self._missing}))
            self._missing = lost
        self._log.tell(self._stamped(record))

    def _stamped(self, record: dict[str, Any]) -> str:
        stamp = self._time.wall().isoformat(timespec="milliseconds")
        return json.dumps({"time": stamp, **record}, ensure_ascii=False) + "\n"


def line(state: State) -> str:
    """The state in one line; the song's title gets what the rest leaves of 79 letters, and at least 8."""
    where = clock_text(max(0.0, state.position), 0) + (f"/{clock_text(state.end, 0)}" if state.end else "")
    bar = f"  bar {state.bar}" if state.bar else ""
    late = f"skipped {state.punctuality.skipped}  late {1000 * state.punctuality.percentile(0.99):.1f} ms"
    counts = f"sent {state.sent}  dropped {state.dropped}  {late}"
    rest = f"  {where}{bar}  {counts}" + (f"  {state.off} off" if state.off else "")
    song, room = plain(state.song), max(8, WIDTH - len(rest))
    return (song if len(song) <= room else song[: room - 1] + "…") + rest


def plain(text: str) -> str:
    """``text`` without what would command a terminal: titles come out of files that come from strangers."""
    return "".join(letter if letter.isprintable() or letter == "\n" else " " for letter in text)
