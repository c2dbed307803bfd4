"""The way out: a socket for each address, so that a controller that is switched off cannot hold up the others."""

from __future__ import annotations

import contextlib
import ipaddress
import os
import socket
import threading
from collections.abc import Callable, Iterable, Iterator

from eavesong.playback.packets import PORT, group_address
from eavesong.playback.wiring import MULTICAST, misfit_of_address

Send = Callable[[memoryview], None]

LOOK_UP_EVERY = 60
"""Times of housekeeping between look-ups of a host name that has been found; before that every few."""


class Link:
    """A UDP socket to one address; what cannot be sent is counted as dropped, never waited for."""

    def __init__(self, address: str, port: int, *, allow_public: bool, interface: str) -> None:
        self.address = address
        self.sent = 0
        self.dropped = 0
        self.trouble = ""
        """Why nothing got there of late, in the system's words; empty while all is well."""
        self._port = port
        self._allow_public = allow_public
        self._interface = interface
        self._socket: socket.socket | None = None
        self._ip = address if _is_ip(address) else ""
        self._looking: threading.Thread | None = None
        self._since_look_up = LOOK_UP_EVERY
        self._fault = "its name has not been found"
        self._dropped_before = self._sent_before = 0
        self._moved = False
        if self._ip or address == MULTICAST:
            self._open()

    def target(self, universe: int) -> Send:
        """What sends a packet of ``universe``: to this address, or to the universe's multicast group."""
        if self.address != MULTICAST:
            return self.send
        group = (group_address(universe), self._port)
        return lambda octets: self._send_to(octets, group)

    def send(self, octets: memoryview) -> None:
        """Send to the address. A refusal tells about an earlier packet and eats this one, so it is sent again."""
        if self._socket is None:
            self.dropped += 1
            return
        try:
            self._socket.send(octets)
            self.sent += 1
        except ConnectionRefusedError as fault:
            self._drop(fault)
            with contextlib.suppress(OSError):
                self._socket.send(octets)
                self.sent += 1
        except OSError as fault:
            self._drop(fault)

    def _send_to(self, octets: memoryview, group: tuple[str, int]) -> None:
        if self._socket is None:
            self.dropped += 1
            return
        try:
            self._socket.sendto(octets, group)
            self.sent += 1
        except OSError as fault:
            self._drop(fault)

    def housekeep(self) -> bool:
        """Once a second: look names up, open again what does not work; whether ``trouble`` came or went.

        It stays until something got there: of an address that is sent to every ten seconds a second without a failure
        tells nothing.
        """
        before = self.trouble
        failed, got_there = self.dropped > self._dropped_before, self.sent > self._sent_before
        self._dropped_before, self._sent_before = self.dropped, self.sent
        if failed or self._socket is None:
            self.trouble = self._fault
        elif got_there:
            self.trouble = ""
        if not _is_ip(self.address) and self.address != MULTICAST:
            self._look_up()
        if self._socket is None or self._moved or (failed and "refused" not in self._fault.lower()):
            self._open()
        return bool(before) != bool(self.trouble)

    def close(self) -> None:
        """Close the socket."""
        if self._socket is not None:
            self._socket.close()
            self._socket = None

    def _drop(self, fault: OSError) -> None:
        self.dropped += 1
        self._fault = os.strerror(fault.errno) if fault.errno else str(fault)

    def _open(self) -> None:
        """A socket that never waits; none while the network is not there."""
        self.close()
        self._moved = False
        if not self._ip and self.address != MULTICAST:
            return
        made = socket.socket(_family(self._ip), socket.SOCK_DGRAM)
        try:
            made.setblocking(False)
            if self.address == MULTICAST:
                _choose_interface(made, self._interface)
            else:
                made.connect((self._ip, self._port))
        except OSError as fault:
            made.close()
            self._fault = os.strerror(fault.errno) if fault.errno else str(fault)
        else:
            self._socket = made

    def _look_up(self) -> None:
        """Have the name looked up in a thread of its own: that can take as long as it likes."""
        self._since_look_up += 1
        running = self._looking is not None and self._looking.is_alive()
        if not running and self._since_look_up >= (LOOK_UP_EVERY if self._ip else 5):
            self._since_look_up = 0
            self._looking = threading.Thread(target=self._resolve, daemon=True)
            self._looking.start()

    def _resolve(self) -> None:
        try:
            found = socket.getaddrinfo(self.address, self._port, type=socket.SOCK_DGRAM)
        except (OSError, UnicodeError):
            return
        ip = min(found, key=lambda each: each[0] != socket.AF_INET)[4][0]
        if misfit := misfit_of_address(str(ip), self._allow_public):
            self._fault = misfit[0]
        elif ip != self._ip:
            self._ip, self._moved = str(ip), True  # the thread that sends opens the socket


class Links:
    """All links of this installation, one for each address, opened when an address is first asked for."""

    def __init__(self, *, allow_public: bool = False, interface: str = "", port: int = PORT) -> None:
        self._options = {"allow_public": allow_public, "interface": interface}
        self._port = port
        self._links: dict[str, Link] = {}
        self._past = (0, 0)
        """Packets sent and dropped by links that have been closed."""

    def __iter__(self) -> Iterator[Link]:
        return iter(self._links.values())

    def to(self, address: str) -> Link:
        """The link to ``address``."""
        if address not in self._links:
            self._links[address] = Link(address, self._port, **self._options)  # type: ignore[arg-type]
        return self._links[address]

    def to_everyone(self, addresses: Iterable[str], universe: int) -> list[Send]:
        """What sends a packet that the standard has multicast: synchronisation (6.3.3.1) and discovery (12).

        Where every controller is on this very computer it goes to those addresses instead, so that a rehearsal
        does not reach the network.
        """
        addresses = list(addresses)
        if addresses and all(_is_loopback(address) for address in addresses):
            return [self.to(address).send for address in addresses]
        return [self.to(MULTICAST).target(universe)]

    def keep_only(self, addresses: Iterable[str]) -> None:
        """Close every link to an address that is not among ``addresses``."""
        kept = {*addresses, MULTICAST}
        for address in [address for address in self._links if address not in kept]:
            gone = self._links.pop(address)
            gone.close()
            self._past = (self._past[0] + gone.sent, self._past[1] + gone.dropped)

    def housekeep(self) -> list[Link]:
        """Look after every link; those whose trouble came or went."""
        return [link for link in self if link.housekeep()]

    @property
    def sent(self) -> int:
        """Packets handed to the network."""
        return self._past[0] + sum(link.sent for link in self)

    @property
    def dropped(self) -> int:
        """Packets that could not be."""
        return self._past[1] + sum(link.dropped for link in self)

    def close(self) -> None:
        """Close every socket."""
        for link in self:
            link.close()


def _is_ip(address: str) -> bool:
    try:
        ipaddress.ip_address(address)
    except ValueError:
        return False
    return True


def _is_loopback(address: str) -> bool:
    return _is_ip(address) and ipaddress.ip_address(address).is_loopback


def _family(ip: str) -> socket.AddressFamily:
    return socket.AF_INET6 if ":" in ip else socket.AF_INET


def _choose_interface(made: socket.socket, interface: str) -> None:
    """Multicast stays on the local network (a time to live of 1, as RFC 1112 has it), and leaves by ``interface``."""
    made.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_TTL, 1)
    if interface:
        made.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, socket.inet_aton(interface))
