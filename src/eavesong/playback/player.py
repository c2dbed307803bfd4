"""The loop: read a frame, wait for its moment, send it. What is late is skipped, never queued up."""

from __future__ import annotations

import contextlib
import math
from collections.abc import Callable
from typing import TYPE_CHECKING

from eavesong.errors import FramesError
from eavesong.playback.sender import TICK
from eavesong.playback.source import frame_at, time_of

if TYPE_CHECKING:
    from eavesong.playback.clock import Clock, Time
    from eavesong.playback.sender import Sender
    from eavesong.playback.source import Source
    from eavesong.playback.status import Status
    from eavesong.playback.stop import Stop

HOUSEKEEPING = 1.0
"""Seconds between looks at everything that is not a frame."""
SHOW_EVERY = 0.25
"""Seconds between updates of the live line."""
LEAD = 0.1
"""Seconds before its moment that a frame is read at the earliest: what is loaded goes out with the next packet."""
DUE = 1e-5
"""Seconds before its moment at which a frame is due: no sleep is shorter, and rounding cannot hold a frame up."""
UNREADABLE = 2.0
"""Seconds of frames that cannot be read, after which the song is given up."""

Fired = Callable[[int, float, float], None]
"""Called with a frame's number, the song's position it was due at, and the position when it was sent."""


class Player:
    """Plays sources on a sender, one after the other."""

    def __init__(
        self, sender: Sender, time: Time, stop: Stop, status: Status, *, offset: float = 0.0, ceiling: bool = True,
        fired: Fired | None = None,
    ) -> None:  # fmt: skip
        self.sender = sender
        self.time = time
        self.stop = stop
        self.status = status
        self.offset = offset
        """Seconds the light comes after the song's own position."""
        self._ceiling = ceiling
        self._fired = fired
        self._next_look = self._next_show = -math.inf
        self._told = ""

    def prepare(self, source: Source) -> None:
        """Do before the song begins what takes longer than a frame: tables, sockets, the first frames off the disk."""
        self.sender.use(source.wiring, source.frame_rate, ceiling=self._ceiling)
        with contextlib.suppress(FramesError):
            source.read(0)

    def play(
        self, source: Source, clock: Clock, *, until: Callable[[], bool] = lambda: False,
        bar_at: Callable[[float], int] = lambda seconds: 0, stop_at: float = math.inf,
    ) -> bool:  # fmt: skip
        """Play ``source`` in time with ``clock`` to its end; whether it got there.

        It ends early when asked to stop, at ``stop_at`` by the monotonic clock, and when ``until``, asked once a
        second, says so. ``bar_at`` gives the bar at a time, for people. Raises FramesError when the file cannot be
        read for some seconds. What was shown last stays on: the caller ends the streams, or plays something else.
        """
        self.sender.use(source.wiring, source.frame_rate, ceiling=self._ceiling)
        state = self.status.state
        state.song, state.late = source.title, 0
        state.length = source.frame_count / source.frame_rate if math.isfinite(source.frame_count) else 0.0
        shown, skipped = -1, False
        last_good = self.time.monotonic()
        while not self.stop.asked and self.time.monotonic() < stop_at - DUE:
            number = max(shown + 1, frame_at(source, self._here(clock)))
            if number >= source.frame_count:
                return self._wait(source, int(source.frame_count), clock)
            if not self._wait(source, number, clock, LEAD):
                break
            if self._load(source, number, clock):
                last_good = self.time.monotonic()
            elif self.time.monotonic() - last_good > UNREADABLE:
                source.read(number)
            if not self._wait(source, number, clock) or self.time.monotonic() >= stop_at - DUE:
                break
            if frame_at(source, self._here(clock)) > number and not skipped:
                skipped = True  # once only: a computer that is always late still shows something
                continue
            self._fire(source, number, number - shown - 1 if shown >= 0 else 0, clock)
            shown, skipped = number, False
            if self._look_around(clock, bar_at) and until():
                break
        return False

    def _here(self, clock: Clock) -> float:
        """Seconds into the song that the light is to show now."""
        return clock.position() - self.offset

    def _fire(self, source: Source, number: int, late: int, clock: Clock) -> None:
        state = self.status.state
        state.late += late
        state.frame, state.position = number, self._here(clock)
        self.sender.tick(self.time.monotonic())
        if self._fired:
            self._fired(number, time_of(source, number), state.position)

    def _load(self, source: Source, number: int, clock: Clock) -> bool:
        """Read the frame into the packets; False when it cannot be read, and what is shown stays."""
        try:
            frame = source.read(number)
        except FramesError:
            return False
        now = self.time.monotonic()
        due = now + max(0.0, time_of(source, number) - self._here(clock))
        self.sender.load(frame, number, due)
        return True

    def _wait(self, source: Source, number: int, clock: Clock, lead: float = 0.0) -> bool:
        """Sleep until ``lead`` before the frame is due, with signs of life in between; False when asked to stop."""
        due, began = time_of(source, number) - lead, self.time.monotonic()
        while (left := due - self._here(clock)) > DUE:
            # What is loaded already must not go out before its moment, unless the song itself stands still.
            if lead or self.time.monotonic() - began > 2 * LEAD:
                self.sender.tick(self.time.monotonic())
            self.time.sleep(min(left, TICK))
            if self.stop.asked:
                return False
        return True

    def _look_around(self, clock: Clock, bar_at: Callable[[float], int]) -> bool:
        """The live line and, once a second, True after everything that is not a frame."""
        now = self.time.monotonic()
        if now >= self._next_show:
            self._next_show = now + SHOW_EVERY
            state, links = self.status.state, self.sender.links
            state.sent, state.dropped, state.bar = links.sent, links.dropped, bar_at(state.position)
            self.status.show()
        if now < self._next_look:
            return False
        self._next_look = now + HOUSEKEEPING
        if clock.fault and clock.fault != self._told:
            self._told = clock.fault
            self.status.event("no sound", clock.fault)
        self.look_after(now)
        return True

    def look_after(self, now: float) -> None:
        """Discovery, names and sockets, and word about controllers that went or came back."""
        for address, trouble in self.sender.housekeep(now):
            if trouble:
                self.status.event("unreachable", f"{address} cannot be reached: {trouble}", address=address)
            else:
                self.status.event("reachable", f"{address} can be reached again", address=address)
        self.status.state.off = sum(bool(link.trouble) for link in self.sender.links)
