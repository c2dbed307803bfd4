"""What people see of a batch: a live table on a terminal, plain lines in a log."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from eavesong.season.fresh import FORCED, NEW
from eavesong.words import clock_text

if TYPE_CHECKING:
    from eavesong.season.plan import Task
    from eavesong.season.work import Outcome

Say = Callable[[str], None]

NAME = 32
"""Columns of a song's name."""
RENDERS = ("listening", "compiling", "rendering", "fetching")
"""Stages of a song that is being rendered; others only look at it."""
UP, CLEAR = "\x1b[{}A", "\x1b[J"
"""ECMA-48: cursor up, and erase from the cursor to the end of the page."""


@dataclass
class _Running:
    """A task under way."""

    stage: str
    began: float
    at_stage: float
    done: int = 0
    total: int = 0
    told: bool = False
    """Whether a log has been told that it is being rendered."""


@dataclass
class Progress:
    """Keeps what is under way, and tells of it; safe to call from several threads.

    say: takes a line, or several. live: whether the lines under way are drawn again and again in one place.
    seconds: how long each task's song is, 0 where that is not known.
    """

    tasks: Sequence[Task]
    say: Say
    live: bool
    seconds: Mapping[int, float]
    clock: Callable[[], float] = time.monotonic
    _running: dict[int, _Running] = field(default_factory=dict)
    _finished: set[int] = field(default_factory=set)
    _drawn: int = 0
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def __post_init__(self) -> None:
        self.began = self.clock()
        self.names = {task.number: task.name for task in self.tasks}
        self.rates = {task.number: task.frame_rate for task in self.tasks}

    def seen(self, number: int, stage: str, done: int, total: int) -> None:
        """A task is at a stage, with so many frames done."""
        with self._lock:
            if number in self._finished:
                return
            now = self.clock()
            here = self._running.get(number)
            if here is None:
                here = self._running[number] = _Running("", now, now)
            if stage in RENDERS and not (self.live or here.told):  # not what turns out to be up to date
                here.told = True
                self.say(f"begun       {self.names[number]}")
            if stage != here.stage:
                here.stage, here.at_stage = stage, now
            here.done, here.total = done, total
            self._draw()

    def finished(self, outcome: Outcome, *, told: bool = False) -> None:
        """A task has come to its end; ``told``: of which has been told already."""
        with self._lock:
            self._finished.add(outcome.number)
            self._running.pop(outcome.number, None)
            self._rub_out()
            if not told:
                self.say(outcome_line(outcome))
            self._draw()

    def tell(self, line: str) -> None:
        """Say something about the batch as a whole."""
        with self._lock:
            self._rub_out()
            self.say(line)
            self._draw()

    def end(self) -> None:
        """Take the live table away."""
        with self._lock:
            self._rub_out()

    def _rub_out(self) -> None:
        if self._drawn:
            self.say(UP.format(self._drawn) + "\r" + CLEAR + "\x1b[1A")
            self._drawn = 0

    def _draw(self) -> None:
        if not self.live:
            return
        lines = self.table()
        back = UP.format(self._drawn) + "\r" + CLEAR if self._drawn else ""
        self.say(back + "\n".join(lines))
        self._drawn = len(lines)

    def table(self) -> list[str]:
        """The tasks under way: song, stage, rate against real time, time left; and how far the whole batch is."""
        now = self.clock()
        lines = [self._row(number, here, now) for number, here in sorted(self._running.items())]
        done = len(self._finished)
        left = self._time_left(now)
        waits = f", about {clock_text(left, 0)} left" if left is not None else ""
        return [*lines, f"{done} of {len(self.tasks)} done{waits}"]

    def _row(self, number: int, here: _Running, now: float) -> str:
        rate = left = ""
        spent = now - here.at_stage
        if here.stage == "rendering" and here.done and spent > 0:
            speed = here.done / spent
            rate = f"{speed / self.rates[number]:.0f} x"
            left = clock_text((here.total - here.done) / speed, 0)
        share = f"{here.done / here.total:.0%}" if here.total else ""
        return f"  {shortened(self.names[number]):<{NAME}}  {here.stage:<10} {share:>4}  {rate:>6}  {left:>6}"

    def _time_left(self, now: float) -> float | None:
        """Seconds until all is done, going by the seconds of song done so far; None where nothing is done yet."""
        through = sum(self.seconds.get(number, 0.0) for number in self._finished)
        for number, here in self._running.items():
            through += self.seconds.get(number, 0.0) * (here.done / here.total if here.total else 0.0)
        whole = sum(self.seconds.values())
        spent = now - self.began
        return spent * (whole - through) / through if through > 0 and spent > 0 else None


def shortened(name: str) -> str:
    """A name in NAME columns, without its middle where it is longer: a house stands at its end."""
    return name if len(name) <= NAME else f"{name[: NAME // 2 - 1]}…{name[-NAME // 2 :]}"


def outcome_line(outcome: Outcome) -> str:
    """``rendered    Frost Waltz: 2,612 frames in 1.9 s (34 x real time)``."""
    if outcome.status == "rendered":
        rate = outcome.song_seconds / outcome.seconds if outcome.seconds else 0.0
        tries = f", attempt {outcome.attempts}" if outcome.attempts > 1 else ""
        told = f"{outcome.frames:,} frames in {outcome.seconds:.1f} s ({rate:.0f} x real time{tries})"
    else:
        told = outcome.reason if outcome.status == "failed" else ""
    asked = f"asked for: {outcome.asked}" if outcome.asked and outcome.status == "rendered" else ""
    again = outcome.status == "rendered" and outcome.reason not in ("", NEW, FORCED)
    since = f"since {outcome.reason}" if again else ""
    notes = "".join(f"\n{'':<12}{note}" for note in (since, asked, *outcome.notes) if note)
    return f"{outcome.status:<11} {outcome.name}{': ' * bool(told)}{told}{notes}"
