"""The sender: what each universe shows, when it is sent, and under which number.

All data packets lie in one table, a row of 638 octets for each universe. A frame is put into its slots by one
indexed assignment, sequence numbers are raised by one addition, and what is handed to the sockets are views of the
rows: nothing is built or copied per packet.
"""

from __future__ import annotations

import threading
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.playback import packets
from eavesong.playback.packets import DATA_OCTETS, OPTIONS_AT, SEQUENCE_AT, SLOTS, SLOTS_AT

if TYPE_CHECKING:
    from eavesong.playback.clock import Time
    from eavesong.playback.links import Links, Send
    from eavesong.playback.wiring import Wiring

REPEATS = 3
"""Packets of the same values before a universe falls silent (E1.31-2018, 6.6.2)."""
KEEP_ALIVE = 0.85
"""Seconds of silence after which the next tick sends again: 0.8 to 1.0 s in all (6.6.2)."""
TICK = 0.1
"""Seconds between looks at the clock, at most, so that a keep-alive is never later than it may be."""
DISCOVERY_EVERY = 10.0
"""E131_UNIVERSE_DISCOVERY_INTERVAL (Appendix A)."""
LAST_PACKETS = 3
"""Packets that say that a stream ends (6.2.6)."""
END_GAP = 0.025
"""Seconds between the packets at the end: above a line's refresh time, and one bad moment does not lose them all."""


@dataclass(frozen=True)
class Voice:
    """As whom to send."""

    cid: uuid.UUID
    source_name: str = "eavesong"
    priority: int = 100
    sync_address: int = 0
    """The universe number that data packets wait for and synchronisation packets carry; 0: not synchronised."""
    sync_delay: float = 0.0
    """Seconds between the data and their synchronisation packet (11.2.2)."""
    discovery: bool = True


class Sender:
    """Sends frames to the universes of a wiring, one at a time.

    ``use`` a wiring, then for every frame ``load`` it when there is time and ``fire`` it when it is due, or ``tick``,
    which adds signs of life; ``finish`` at the end, whatever the end is, and ``close`` when nothing is to follow.
    One thread plays; ``keep_alive`` and ``close`` may come from another.
    """

    def __init__(self, links: Links, voice: Voice, time: Time, *, to: str = "") -> None:
        """``to``: the address that everything is sent to, whatever a wiring says; for rehearsals."""
        self.to = to
        self.links = links
        self.voice = voice
        self.time = time
        self._sequences: dict[int, int] = {}
        self._sync_sequence = 0
        self._next_discovery = -np.inf
        self._turn = threading.RLock()
        """Held while packets are put together and sent, which never waits."""
        self._closed = False
        self._set(None)

    @property
    def universes(self) -> tuple[int, ...]:
        """The universes that are sent to now, ascending."""
        return tuple(self._numbers)

    def use(self, wiring: Wiring, frame_rate: float, *, ceiling: bool = True) -> None:
        """Send to ``wiring`` from now on. Universes that it lacks end properly, the others go on.

        ``ceiling``: never faster than a DMX512 line refreshes (see ``Wiring.strides``).
        """
        with self._turn:
            if not self._closed:
                self._use(wiring.sent_to(self.to) if self.to else wiring, frame_rate, ceiling)

    def _use(self, wiring: Wiring, frame_rate: float, ceiling: bool) -> None:
        before = dict(zip(self._numbers, self._addresses, strict=True))
        after = dict(zip(wiring.universes.tolist(), wiring.addresses, strict=True))
        if before == after:
            shown = self._slots.copy()
        else:
            gone = [n for n, each in enumerate(self._numbers) if after.get(each) != before[each]]
            self._end(gone)
            shown = None
        self._remember_sequences()
        self._set(wiring)
        self._strides = wiring.strides(frame_rate, ceiling=ceiling)
        if shown is not None:
            self._slots[:] = shown
        else:
            self._next_discovery = -np.inf
            self.links.keep_only(address for row in wiring.addresses for address in row)

    def load(self, frame: NDArray[np.uint8], number: int, at: float) -> None:
        """Put frame ``number``, uint8 (channel,), into the packets that go out with the next ``fire``, at about ``at``.

        A universe whose values stay is sent three times and then left alone until it needs a sign of life.
        """
        with self._turn:
            if self._wiring is not None:
                self._load(self._wiring, frame, number, at)
            elif not self._closed:
                raise RuntimeError("use() a wiring before loading a frame")

    def _load(self, wiring: Wiring, frame: NDArray[np.uint8], number: int, at: float) -> None:
        self._table.reshape(-1)[wiring.cells] = frame[wiring.channels]
        step = number // self._strides
        due = step != self._steps
        fresh = due & (self._table != self._slots).any(axis=1)
        self._slots[fresh] = self._table[fresh]
        self._repeats[fresh] = 0
        self._steps[due] = step[due]
        self._pending |= due & (self._repeats < REPEATS)
        self._pending |= at - self._last_sent >= KEEP_ALIVE

    def fire(self, now: float) -> int:
        """Send what is loaded; the number of universes sent."""
        with self._turn:
            rows = np.flatnonzero(self._pending)
            if not rows.size:
                return 0
            self._pending[:] = False
            self._repeats[rows] += 1
            self._last_sent[rows] = now
            self._send(rows.tolist())
            if self.voice.sync_address:
                self._synchronise()
            return len(rows)

    def tick(self, now: float) -> None:
        """Send what is loaded, and what has been silent for long enough."""
        with self._turn:
            self._pending |= now - self._last_sent >= KEEP_ALIVE
            self.fire(now)

    def keep_alive(self, now: float, silence: float) -> None:
        """Send again what has been silent for ``silence`` seconds, and nothing when nothing was ever sent."""
        with self._turn:
            silent = now - self._last_sent
            if ((silent >= silence) & (silent < np.inf)).any():
                self.tick(now)

    def housekeep(self, now: float) -> list[tuple[str, str]]:
        """Once a second: universe discovery, names, sockets. (Address, trouble or nothing) of what changed."""
        if self.voice.discovery and self._numbers and now >= self._next_discovery:
            self._next_discovery = now + DISCOVERY_EVERY
            pages = packets.discovery_packets(
                self._numbers, cid=self.voice.cid.bytes, source_name=self.voice.source_name
            )
            for page in pages:
                self._send_to_everyone(page, packets.DISCOVERY_UNIVERSE)
        return [(link.address, link.trouble) for link in self.links.housekeep()]

    def black(self) -> None:
        """Every slot to 0, at once."""
        with self._turn:
            self._slots[:] = 0
            self._repeats[:] = 0
            self._pending[:] = True
            self.fire(self.time.monotonic())

    def finish(self) -> None:
        """Black, then three packets in every universe that say the stream ends; nothing follows until ``use``."""
        with self._turn:
            self._end(range(len(self._numbers)))
            self._remember_sequences()
            self._set(None)

    def close(self) -> None:
        """``finish``, and send nothing from now on, whatever is asked."""
        with self._turn:
            self._closed = True
            self.finish()

    def _end(self, rows: Sequence[int]) -> None:
        """End the universes in these rows: black, and three terminated packets, with a gap after each."""
        if not rows:
            return
        rows = list(rows)
        self._slots[rows] = 0
        self._send(rows)
        self._block[rows, OPTIONS_AT] = packets.TERMINATED
        for _ in range(LAST_PACKETS):
            self.time.sleep(END_GAP)
            self._send(rows)

    def _send(self, rows: list[int]) -> None:
        self._block[rows, SEQUENCE_AT] += 1  # uint8: 0 follows 255
        targets, views = self._targets, self._views
        for row in rows:
            for send in targets[row]:
                send(views[row])

    def _synchronise(self) -> None:
        if self.voice.sync_delay:
            self.time.sleep(self.voice.sync_delay)
        self._sync_sequence = (self._sync_sequence + 1) % 256
        packet = packets.sync_packet(self.voice.sync_address, cid=self.voice.cid.bytes, sequence=self._sync_sequence)
        self._send_to_everyone(packet, self.voice.sync_address)

    def _send_to_everyone(self, packet: bytes, universe: int) -> None:
        addresses = dict.fromkeys(address for row in self._addresses for address in row)
        everyone = self.links.to_everyone(addresses, universe)
        for send in [self.links.to(self.to).target(universe)] if self.to else everyone:
            send(memoryview(packet))

    def _remember_sequences(self) -> None:
        self._sequences.update(zip(self._numbers, self._block[:, SEQUENCE_AT].tolist(), strict=True))

    def _set(self, wiring: Wiring | None) -> None:
        """Tables for the universes of ``wiring``, all slots 0."""
        self._wiring = wiring
        self._numbers: list[int] = wiring.universes.tolist() if wiring else []
        self._addresses = wiring.addresses if wiring else ()
        count = len(self._numbers)
        self._block = np.zeros((count, DATA_OCTETS), np.uint8)
        for row, universe in enumerate(self._numbers):
            self._block[row] = np.frombuffer(self._packet(universe), np.uint8)
        self._slots = self._block[:, SLOTS_AT:]
        self._table = np.zeros((count, SLOTS), np.uint8)
        self._strides = np.ones(count, np.int64)
        self._steps = np.full(count, -1, np.int64)
        self._repeats = np.zeros(count, np.int64)
        self._last_sent = np.full(count, -np.inf)
        self._pending = np.zeros(count, bool)
        self._views = [memoryview(self._block[row]) for row in range(count)]
        self._targets: list[list[Send]] = [
            [self.links.to(address).target(universe) for address in row]
            for universe, row in zip(self._numbers, self._addresses, strict=True)
        ]

    def _packet(self, universe: int) -> bytes:
        return packets.data_packet(
            universe, bytes(SLOTS), cid=self.voice.cid.bytes, source_name=self.voice.source_name,
            priority=self.voice.priority, sequence=self._sequences.get(universe, 0),
            sync_address=self.voice.sync_address,
        )  # fmt: skip
