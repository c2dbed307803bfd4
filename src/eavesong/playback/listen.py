"""Hearing what arrives: an E1.31 receiver that keeps the rules of ANSI E1.31-2018, for finding faults."""

from __future__ import annotations

import contextlib
import errno
import selectors
import socket
import sys
import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from eavesong.errors import OutputError, Problem
from eavesong.playback.clock import SystemTime, Time
from eavesong.playback.packets import (
    DISCOVERY_UNIVERSE,
    LONGEST,
    PORT,
    DataPacket,
    DiscoveryPacket,
    SyncPacket,
    group_address,
    is_newer,
    read_packet,
)  # fmt: skip

DATA_LOSS = 2.5
"""E131_NETWORK_DATA_LOSS_TIMEOUT (Appendix A): seconds after which a silent source counts as gone."""
GROUPS = 20
"""Multicast groups a Linux socket may be in as it comes (net.ipv4.igmp_max_memberships)."""
MOST_GROUPS = 10_000
"""Multicast groups at once: the kernel takes time with the square of them, minutes for all there are, and cannot be
interrupted."""
IP_MULTICAST_ALL = 49
"""Linux: no groups that other sockets of this computer have joined; Python has no name for it."""
BUFFER = 4 << 20
MOST_SOURCES = 16
"""Sources that are told apart in one universe: a stranger could make up any number."""
MOST_AT_ONCE = 2000
GREETING = b"eavesong is about to listen here"
"""What a listener sends to one that is there already, before it takes its place; no packet of the standard."""
BESIDE_ANOTHER = (
    "Another program listens for E1.31 on this computer. What is sent to one address, not multicast, reaches only one "
    "of the two: what is counted here may not be all that was sent."
)
"""What to say of a listener that is ``beside_another``."""
NO_MULTICAST = {errno.ENODEV, errno.ENETUNREACH, errno.EADDRNOTAVAIL}
"""What a system answers who wants to join a group where no network carries multicast."""
ONLY_HERE = (
    "No network of this computer carries multicast: what is sent to one of its own addresses is heard, 127.0.0.1 among "
    "them, and nothing else."
)
"""What to say of a listener that hears ``only_here``."""


@dataclass
class Stream:
    """What one source sends in one universe."""

    cid: uuid.UUID
    source_name: str
    priority: int
    slots: bytes
    sequence: int
    at: float
    """When the last packet came, by the monotonic clock."""
    packets: int = 1
    lost: int = 0
    """Sequence numbers that never came."""
    discarded: int = 0
    """Packets that came too late, or twice (6.7.2)."""
    since: float = 0.0
    ended: str = ""
    """How it went: ``ended``, ``fell silent``; empty while it sends."""

    def follow(self, packet: DataPacket, now: float) -> None:
        """Take over what a packet says."""
        self.source_name, self.priority, self.slots = packet.source_name, packet.priority, packet.slots
        self.sequence, self.at = packet.sequence, now
        self.packets += 1

    @property
    def rate(self) -> float:
        """Packets a second, all in all."""
        return (self.packets - 1) / (self.at - self.since) if self.at > self.since else 0.0


@dataclass
class Universe:
    """What is heard in one universe."""

    number: int
    sources: dict[uuid.UUID, Stream] = field(default_factory=dict)
    """Those that send."""
    past: dict[uuid.UUID, Stream] = field(default_factory=dict)
    """Those that sent, and do not any more."""

    def take(self, packet: DataPacket, now: float) -> bool:
        """Follow a data packet; whether it was used."""
        heard = self.sources.get(packet.cid)
        if packet.terminated:
            self._part(packet.cid, "ended")
            return False
        if packet.start_code:
            return False
        if heard is None:
            if len(self.sources) < MOST_SOURCES:
                self._meet(packet, now)
            return True
        if not is_newer(packet.sequence, heard.sequence):
            heard.discarded += 1
            return False
        heard.lost += (packet.sequence - heard.sequence - 1) % 256
        heard.follow(packet, now)
        return True

    def forget(self, now: float) -> None:
        """Sources that have been silent for too long count no more (6.7.1)."""
        for cid in [cid for cid, heard in self.sources.items() if now - heard.at > DATA_LOSS]:
            self._part(cid, "fell silent")

    def _meet(self, packet: DataPacket, now: float) -> None:
        """A source that is new, or here again: then it counts on, without the pause between."""
        again = self.past.pop(packet.cid, None)
        if again is None:
            self.sources[packet.cid] = Stream(
                packet.cid, packet.source_name, packet.priority, packet.slots, packet.sequence, now, since=now
            )
            return
        again.since += now - again.at
        again.ended = ""
        again.follow(packet, now)
        self.sources[packet.cid] = again

    def _part(self, cid: uuid.UUID, how: str) -> None:
        heard = self.sources.pop(cid, None)
        if heard is not None:
            heard.ended = how
            self.past[cid] = heard
            while len(self.past) > MOST_SOURCES:
                self.past.pop(next(iter(self.past)))

    @property
    def leader(self) -> Stream | None:
        """The source that counts: the highest priority, among equals the one heard first (6.2.3)."""
        return max(self.sources.values(), key=lambda heard: heard.priority, default=None)

    def slots(self) -> bytes:
        """512 slots of the leader; zeros where nobody sends."""
        leader = self.leader
        return leader.slots.ljust(512, b"\0") if leader else bytes(512)


class Listener:
    """Listens to universes; ``hear`` for a while, then look at ``universes``."""

    def __init__(
        self, universes: Iterable[int], *, address: str = "", interface: str = "", port: int = PORT,
        time: Time | None = None,
    ) -> None:  # fmt: skip
        """``address``: only what is sent to this address of the computer, no multicast; else everything, and the
        groups of the universes on ``interface``. Raises OutputError when that cannot be listened to."""
        self.universes = {number: Universe(number) for number in sorted(set(universes))}
        self.discovered: dict[uuid.UUID, tuple[str, set[int]]] = {}
        """Universes that sources say they send, with the sources' names."""
        self.synchronised: dict[int, float] = {}
        """When each synchronisation address was last heard of."""
        self.others = 0
        """Packets that are not E1.31, or of other universes."""
        self._heard: set[int] = set()
        self._time = time or SystemTime()
        self._selector = selectors.DefaultSelector()
        self.beside_another = False
        """Whether another program listens there, so that what is sent to one address reaches only one: it was there
        already, or is an eavesong that came later."""
        self.only_here = False
        """Whether no network carries multicast, so that only what is sent to this computer is heard."""
        groups = [] if address else [group_address(n) for n in (DISCOVERY_UNIVERSE, *self.universes)]
        try:
            if len(groups) > MOST_GROUPS:
                raise OSError(errno.ENOBUFS, "too many groups")
            for first in range(0, max(1, len(groups)), GROUPS):
                joined = groups[first : first + GROUPS]
                try:
                    made, beside = _open(address, port, interface, joined, alone=not first)
                except OSError as fault:
                    if first or interface or not joined or fault.errno not in NO_MULTICAST:
                        raise
                    self.only_here = True
                    made, beside = _open(address, port, interface, (), alone=True)
                self._selector.register(made, 1)
                self.beside_another |= beside and not first
                if self.only_here:
                    break
        except OSError as fault:
            self.close()
            raise OutputError(_deaf(fault, f"{address or 'port'} {port}", len(groups))) from None

    def hear(self, seconds: float) -> int:
        """Take in what comes during ``seconds``; the number of packets."""
        end = self._time.monotonic() + seconds
        count, left = 0, seconds
        while True:  # once at least: what has arrived is taken in however short the time is
            for key, _ in self._selector.select(max(0.0, left)):
                count += self._drain(key.fileobj)  # type: ignore[arg-type]
            if (left := end - self._time.monotonic()) <= 0:
                break
        now = self._time.monotonic()
        for universe in self.heard():
            universe.forget(now)
        return count

    def heard(self) -> list[Universe]:
        """The universes in which anybody sends or has sent, ascending."""
        return [self.universes[number] for number in sorted(self._heard)]

    def take(self, octets: bytes, now: float) -> None:
        """Follow one packet."""
        if octets == GREETING:
            self.beside_another = True
            return
        packet = read_packet(octets)
        if isinstance(packet, DataPacket) and packet.universe in self.universes:
            self.universes[packet.universe].take(packet, now)
            self._heard.add(packet.universe)
        elif isinstance(packet, DiscoveryPacket):
            if packet.cid in self.discovered or len(self.discovered) < MOST_SOURCES:
                _, known = self.discovered.get(packet.cid, ("", set()))
                fresh = set() if packet.page == 0 else known
                self.discovered[packet.cid] = (packet.source_name, fresh | set(packet.universes))
        elif isinstance(packet, SyncPacket):
            if len(self.synchronised) < MOST_SOURCES or packet.sync_address in self.synchronised:
                self.synchronised[packet.sync_address] = now
        else:
            self.others += 1

    def close(self) -> None:
        """Stop listening."""
        for key in list((self._selector.get_map() or {}).values()):
            key.fileobj.close()  # type: ignore[union-attr]
        self._selector.close()

    def _drain(self, heard: socket.socket) -> int:
        """Take in what has arrived: at most so much, so that a flood cannot keep the picture from being drawn."""
        now = self._time.monotonic()
        for count in range(MOST_AT_ONCE):
            try:
                octets = heard.recv(LONGEST + 1)
            except OSError:
                return count
            self.take(octets, now)
        return MOST_AT_ONCE


def _deaf(fault: OSError, where: str, groups: int) -> Problem:
    """Why nothing can be heard, and what to do about it."""
    if fault.errno in (errno.EMFILE, errno.ENFILE, errno.ENOBUFS):
        found = f"{groups:,} multicast groups, one for each universe, are more than this system lets a program be in"
        return Problem(where, "", found, "Name fewer universes, or listen to one --address of this computer.")
    if fault.errno == errno.EADDRINUSE:
        return Problem(
            where,
            "",
            f"cannot be listened to: {fault.strerror}",
            "End the program that listens there and shares with no one.",
        )
    return Problem(where, "", f"cannot be listened to: {fault.strerror or fault}")


def _open(address: str, port: int, interface: str, groups: Sequence[str], *, alone: bool) -> tuple[socket.socket, bool]:
    """A socket on the port, beside others that listen there, in these multicast groups; whether there are others.

    alone: whether this listener has no other socket there, so that others are greeted.
    """
    made = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    try:
        with contextlib.suppress(OSError):
            made.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, BUFFER)
        if sys.platform == "linux":
            made.setsockopt(socket.IPPROTO_IP, IP_MULTICAST_ALL, 0)
        beside = _bind(made, (address, port), greet=alone)
        made.setblocking(False)
        for group in groups:
            joined = socket.inet_aton(group) + socket.inet_aton(interface or "0.0.0.0")
            made.setsockopt(socket.IPPROTO_IP, socket.IP_ADD_MEMBERSHIP, joined)
    except OSError:
        made.close()
        raise
    return made, beside


def _bind(made: socket.socket, where: tuple[str, int], *, greet: bool) -> bool:
    """Bind a socket beside others, who are greeted if asked for, and whether there are others: a port that is shared
    with no one is refused then."""
    try:
        made.bind(where)
        return False
    except OSError as fault:
        if fault.errno != errno.EADDRINUSE:
            raise
        if greet:
            with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as greeter:
                greeter.sendto(GREETING, (where[0] or "127.0.0.1", where[1]))
    finally:
        made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    made.bind(where)
    return True
