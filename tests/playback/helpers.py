"""Small invented houses, a network that only remembers, and clocks that pass hours in seconds."""

from __future__ import annotations

import random
import socket
import threading
import time as real
from collections.abc import Callable
from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path
from typing import Any

import numpy as np

from eavesong.frames import Description, FramesWriter, PatchRow, PropRow, encode_frames
from eavesong.playback.links import Links
from eavesong.playback.packets import DataPacket, read_packet

HOUSE = """
title = "House"
[[prop]]
name = "gutter"
shape = "line"
from = [0, 3, 1]
to = [6, 3, 1]
pixels = 20
[[controller]]
name = "garage"
address = "192.0.2.10"
[[controller.output]]
number = 1
chain = ["gutter"]
"""
"""A layout of one prop on one output, as a file has it."""


class SimTime:
    """Clocks that move only when somebody sleeps, and a wall clock that can be set."""

    def __init__(self, wall: datetime = datetime(2026, 12, 4, 16, 0, tzinfo=UTC)) -> None:
        self.now = 1000.0
        self.jump = timedelta(0)
        self.at: list[tuple[float, Callable[[], None]]] = []
        """(monotonic time, what happens then)."""
        self.patience = 30.0
        """Real seconds that another thread is waited for, in which no time passes here: it may be slow, and nothing is
        late for it."""
        self._moving = threading.RLock()
        self.asleep = 0.0
        """Until when such a thread waits for time to pass here."""
        self._wall = wall

    def set(self, wall: datetime) -> None:
        """What the wall clock shows at the beginning."""
        self._wall = wall

    def monotonic(self) -> float:
        return self.now

    def sleep(self, seconds: float) -> None:
        with self._moving:
            self.now += max(0.0, seconds)
            while self.at and self.at[0][0] <= self.now:
                self.at.pop(0)[1]()

    def wait(self, event: threading.Event, seconds: float) -> bool:
        end = real.monotonic() + self.patience
        while real.monotonic() < end and not event.wait(0.001):
            if self.now < self.asleep:  # the thread that is waited for waits for time to pass here
                self.sleep(min(seconds, self.asleep - self.now))
                return event.is_set()
        return event.is_set()

    def halt(self, seconds: float) -> None:
        """In a thread of its own: wait until ``seconds`` have passed here."""
        passed = threading.Event()
        with self._moving:
            self.at.append((self.now + seconds, passed.set))
            self.at.sort(key=lambda entry: entry[0])
            self.asleep = self.now + seconds
        assert passed.wait(self.patience)

    def wall(self, zone: tzinfo | None = None) -> datetime:
        return (self._wall + timedelta(seconds=self.now - 1000.0) + self.jump).astimezone(zone or UTC)


class RememberingLink:
    """A link that keeps what it is given, with the time."""

    def __init__(self, address: str, links: RememberingLinks) -> None:
        self.address, self.links = address, links
        self.sent = self.dropped = 0
        self.trouble = ""

    def target(self, universe: int) -> Callable[[memoryview], None]:
        return self.send

    def send(self, octets: memoryview) -> None:
        self.sent += 1
        self.links.packets.append((self.links.time.now, self.address, bytes(octets)))

    def housekeep(self) -> bool:
        return False

    def close(self) -> None:
        return


class RememberingLinks(Links):
    """A network that delivers nothing and forgets nothing."""

    def __init__(self, time: SimTime) -> None:
        super().__init__()
        self.time = time
        self.packets: list[tuple[float, str, bytes]] = []

    def to(self, address: str) -> Any:
        return self._links.setdefault(address, RememberingLink(address, self))  # type: ignore[arg-type]

    def data(self, universe: int | None = None) -> list[tuple[float, DataPacket]]:
        """(time, packet) of all data packets, or those of one universe."""
        read = [(when, read_packet(octets)) for when, _, octets in self.packets]
        return [
            (when, packet)
            for when, packet in read
            if isinstance(packet, DataPacket) and universe in (None, packet.universe)
        ]


def loopback() -> str:
    """An address of this computer that nobody else is likely to use: all of 127.0.0.0/8 is (RFC 1122, 3.2.1.3)."""
    return f"127.{random.SystemRandom().randint(64, 250)}.{random.SystemRandom().randint(1, 250)}.7"


def drain(receiver: socket.socket) -> list[bytes]:
    """Everything that has arrived."""
    receiver.setblocking(False)
    octets = []
    while True:
        try:
            octets.append(receiver.recv(2048))
        except BlockingIOError:
            receiver.settimeout(60.0)
            return octets


def until_the_end(receiver: socket.socket, universes: int = 1) -> list[DataPacket]:
    """Data packets as they arrive until every stream has ended; where none does, until the socket loses patience."""
    packets: list[DataPacket] = []
    while sum(packet.terminated for packet in packets) < 3 * universes:
        packet = read_packet(receiver.recv(2048))
        if isinstance(packet, DataPacket):
            packets.append(packet)
    return packets


def house(
    addresses: tuple[str, ...] = ("192.0.2.7",),
    *,
    universes: int = 2,
    frame_rate: float = 40.0,
    pixels: int = 170,
    limit: float = 0.0,
    title: str = "Ribbon of frost",
    song: str = "",
) -> Description:
    """A house of one prop in each universe, universe n at address n (of those given, over and over)."""
    channels = 3 * pixels
    places = np.random.default_rng(3).random((universes * pixels, 3), np.float32)
    return Description(
        title=title, frame_rate=frame_rate, places=places, metres=places * 10,
        props=tuple(PropRow(f"prop {n + 1}", n * pixels, pixels) for n in range(universes)),
        patch=tuple(
            PatchRow(f"prop {n + 1}", n * pixels, pixels, n * channels, channels, "RGB", n + 1, 1,
                     f"box {n % len(addresses) + 1}", addresses[n % len(addresses)], "E1.31", n + 1, limit)
            for n in range(universes)
        ),
        texts={"beats": "0.0\t1\n0.5\t2\n1.0\t1\n1.5\t2\n2.0\t1\n"}, song=song, song_seconds=10.0,
    )  # fmt: skip


def moving(description: Description, count: int) -> np.ndarray:
    """Frames, uint8 (frame, channel), that differ from each other in every universe."""
    frame, channel = np.ogrid[:count, : description.channel_count]
    return ((frame * 7 + channel) % 101).astype(np.uint8)


def write_frames(path: Path, description: Description, frames: np.ndarray) -> Path:
    """A frames file."""
    chunk = min(16, len(frames))
    with FramesWriter(path, description=description, frame_count=len(frames), chunk_frames=chunk) as writer:
        for first in range(0, len(frames), chunk):
            writer.append(encode_frames(np.ascontiguousarray(frames[first : first + chunk]), chunk))
    return path


def still(description: Description, value: int, count: int = 1) -> np.ndarray:
    """``count`` equal frames with ``value`` in every channel."""
    return np.full((count, description.channel_count), value, np.uint8)
