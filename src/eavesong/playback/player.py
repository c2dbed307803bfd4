"""The loop: read a frame, wait for its moment, send it. What is late is skipped, never queued up."""

from __future__ import annotations

import contextlib
import math
from collections.abc import Callable
from contextlib import AbstractContextManager
from typing import TYPE_CHECKING

from eavesong.errors import FramesError
from eavesong.playback.ahead import Ahead
from eavesong.playback.punctuality import Punctuality
from eavesong.playback.sender import TICK
from eavesong.playback.source import frame_at, time_of

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

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
SLOW = 0.5
"""Seconds without an answer of the disk after which people are told."""

Asked = Callable[[], bool]
Fired = Callable[[int, float, float], None]
"""Called with a frame's number, the song's position it was due at, and the position when it was sent."""


class Player:
    """Plays sources on a sender, one after the other."""

    def __init__(
        self, sender: Sender, time: Time, stop: Stop, status: Status, *, offset: float = 0.0, ceiling: bool = True,
        fired: Fired | None = None, alert: Callable[[], AbstractContextManager[None]] = contextlib.nullcontext,
        taken: Callable[[Source | None], None] = lambda source: None,
    ) -> None:  # fmt: skip
        self.sender = sender
        self.time = time
        self.stop = stop
        self.status = status
        self.offset = offset
        """Seconds the light comes after the song's own position."""
        self._ceiling = ceiling
        self._fired = fired
        self._alert = alert
        """What the thread is given while it plays, so that it is woken on time."""
        self._taken = taken
        """Told what is sent from now on."""
        self._next_look = self._next_show = -math.inf
        self._told = ""

    def prepare(self, source: Source, start: float | None = None) -> None:
        """Do before the song begins what takes longer than a frame: tables, sockets, the first frames off the disk.

        start: seconds into the song at which it begins, where not with the source."""
        self._use(source)
        with contextlib.suppress(FramesError):
            source.read(0 if start is None else max(0, frame_at(source, start)))

    def _use(self, source: Source) -> None:
        self.sender.use(source.wiring, source.frame_rate, ceiling=self._ceiling)
        self._taken(source)

    def leave(self) -> None:
        """Nothing is sent until something is played again."""
        self._taken(None)

    def play(
        self, source: Source, clock: Clock, *, until: Callable[[], bool] = lambda: False,
        bar_at: Callable[[float], int] = lambda seconds: 0, stop_at: float = math.inf,
    ) -> bool:  # fmt: skip
        """Play ``source`` in time with ``clock`` to its end; whether it got there.

        It ends early when asked to stop, at ``stop_at`` by the monotonic clock, and when ``until``, asked once a
        second, says so. ``bar_at`` gives the bar at a time, for people. Raises FramesError when the file cannot be
        read for some seconds. What was shown last stays on: the caller ends the streams, or plays something else.
        """
        self._use(source)
        state = self.status.state
        state.song, state.punctuality = source.title, Punctuality()
        state.position = self._here(clock)  # where it begins, until the first frame goes out
        state.frame = max(0, frame_at(source, state.position))
        state.dropped_before = self.sender.links.dropped
        state.end = time_of(source, int(source.frame_count)) if math.isfinite(source.frame_count) else 0.0

        def stopped() -> bool:
            """Whether playing was told to end, or its time is up."""
            return self.stop.asked or self.time.monotonic() >= stop_at - DUE

        def over() -> bool:
            """Whether there is nothing more to wait for."""
            return stopped() or (self._look_around(clock, bar_at) and until())

        with contextlib.closing(Ahead(source)) as ahead, self._alert():
            return self._play(source, clock, ahead, stopped, over)

    def _play(self, source: Source, clock: Clock, ahead: Ahead, stopped: Asked, over: Asked) -> bool:
        """Frame by frame until ``stopped``, or ``over``, which is asked between frames; whether the end was reached."""
        shown, skipped = -1, False
        last_good = self.time.monotonic()
        while not over():
            number = max(shown + 1, frame_at(source, self._here(clock)))
            if number >= source.frame_count:
                return self._wait(source, int(source.frame_count), clock, stopped)
            ahead.want(number)
            if not self._wait(source, number, clock, stopped, LEAD) or not self._read(source, clock, ahead, over):
                continue
            try:
                self._load(source, number, ahead.take(), clock)
                last_good = self.time.monotonic()
            except FramesError:  # what is shown stays
                if self.time.monotonic() - last_good > UNREADABLE:
                    raise
            if not self._wait(source, number, clock, stopped) or stopped():
                continue
            if frame_at(source, self._here(clock)) > number and not skipped:
                skipped = True  # once only: a computer that is always late still shows something
                continue
            self._fire(source, number, number - shown - 1 if shown >= 0 else 0, clock)
            shown, skipped = number, False
        return False

    def _here(self, clock: Clock) -> float:
        """Seconds into the song that the light is to show now."""
        return clock.position() - self.offset

    def _fire(self, source: Source, number: int, skipped: int, clock: Clock) -> None:
        state = self.status.state
        state.frame, state.position = number, self._here(clock)
        state.punctuality.note(state.position - time_of(source, number), skipped)
        self.sender.tick(self.time.monotonic())
        if self._fired:
            self._fired(number, time_of(source, number), state.position)

    def _load(self, source: Source, number: int, frame: NDArray[np.uint8], clock: Clock) -> None:
        """The frame into the packets that go out next."""
        now = self.time.monotonic()
        due = now + max(0.0, time_of(source, number) - self._here(clock))
        self.sender.load(frame, number, due)

    def _read(self, source: Source, clock: Clock, ahead: Ahead, over: Asked) -> bool:
        """Wait until the frame that is wanted has been read; False when it is over meanwhile, or the song is.

        The last look stays on as long as the disk keeps it.
        """
        began, told = self.time.monotonic(), False
        while not self.time.wait(ahead.ready, TICK):
            now = self.time.monotonic()
            self.sender.tick(now)
            if now - began > SLOW and not told:
                told = True
                self.status.event("slow", "the disk does not give the next frame in time; the last one stays on")
            if over() or frame_at(source, self._here(clock)) >= source.frame_count:
                return False
        return True

    def _wait(self, source: Source, number: int, clock: Clock, stopped: Asked, lead: float = 0.0) -> bool:
        """Sleep until ``lead`` before the frame is due, with signs of life in between; False when stopped before."""
        due, began = time_of(source, number) - lead, self.time.monotonic()
        while (left := due - self._here(clock)) > DUE:
            # What is loaded already must not go out before its moment, unless the song itself stands still.
            if lead or self.time.monotonic() - began > 2 * LEAD:
                self.sender.tick(self.time.monotonic())
            self.time.sleep(min(left, TICK))
            if stopped():
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
            if trouble and self.sender.to and "refused" in trouble.lower():
                numbers = self.sender.universes or (1,)
                hint = f"nobody listens there yet: eavesong listen {numbers[0]}-{numbers[-1]} --address {address}"
                self.status.event("unreachable", f"{address}: {hint}", address=address)
            elif trouble:
                self.status.event("unreachable", f"{address} cannot be reached: {trouble}", address=address)
            else:
                self.status.event("reachable", f"{address} can be reached again", address=address)
        self.status.state.off = sum(bool(link.trouble) for link in self.sender.links)
