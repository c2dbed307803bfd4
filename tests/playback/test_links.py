"""Sockets that never wait: controllers that are off, names that are not found, networks that come late."""

import errno
import os
import socket
import time as clock

import pytest

from eavesong.playback.links import Link, Links
from playback.helpers import drain

PACKET = memoryview(b"light")


def link(address: str, **options: object) -> Link:
    return Link(address, 5568, allow_public=bool(options.get("allow_public")), interface="")


class Network:
    """Stands in for a socket, with a fault to give."""

    def __init__(self, fault: int = 0) -> None:
        self.fault = fault
        self.sent: list[bytes] = []

    def send(self, octets: memoryview) -> None:
        if self.fault:
            raise OSError(self.fault, os.strerror(self.fault))
        self.sent.append(bytes(octets))

    def close(self) -> None:
        return


def test_what_is_sent_arrives(receiver: socket.socket, address: str) -> None:
    made = link(address)
    made.send(PACKET)
    assert receiver.recv(100) == b"light"
    assert (made.sent, made.dropped, made.trouble) == (1, 0, "")
    made.close()


def test_a_controller_that_is_off_and_comes_back(address: str) -> None:
    made = link(address)
    for _ in range(4):
        made.send(PACKET)
        clock.sleep(0.002)
    assert made.dropped >= 2
    assert made.housekeep()
    assert made.trouble == os.strerror(errno.ECONNREFUSED)
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as receiver:
        receiver.bind((address, 5568))
        made.send(PACKET)  # the refusal of the last packet is told now, and this one is sent all the same
        assert receiver.recv(100) == b"light"
        made.housekeep()
        made.send(PACKET)
        assert made.housekeep()
        assert made.trouble == ""
    made.close()


@pytest.mark.parametrize("fault", [errno.ENETUNREACH, errno.EHOSTUNREACH, errno.EAGAIN, errno.ENOBUFS, errno.EPERM])
def test_what_the_system_refuses_is_dropped_and_told(fault: int, address: str) -> None:
    made = link(address)
    made.close()
    made._socket = Network(fault)  # type: ignore[assignment]
    made.send(PACKET)
    assert (made.sent, made.dropped) == (0, 1)
    assert made.housekeep()
    assert made.trouble == os.strerror(fault)
    made.close()


def test_a_network_that_comes_late(receiver: socket.socket, address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    def unreachable(*_: object) -> None:
        raise OSError(errno.ENETUNREACH, os.strerror(errno.ENETUNREACH))

    with monkeypatch.context() as patch:
        patch.setattr(socket.socket, "connect", unreachable)
        made = link(address)
        made.send(PACKET)
        assert made.housekeep()
        assert (made.dropped, made.trouble) == (1, os.strerror(errno.ENETUNREACH))
    made.housekeep()
    made.send(PACKET)
    assert drain(receiver) == [b"light"]
    made.close()


def found(monkeypatch: pytest.MonkeyPatch, *addresses: str) -> None:
    """Have every name stand for these addresses."""

    def answer(name: str, port: int, **_: object) -> list[tuple[object, ...]]:
        if not addresses:
            raise socket.gaierror(socket.EAI_AGAIN, "Temporary failure in name resolution")
        return [(socket.AF_INET, socket.SOCK_DGRAM, 17, "", (address, port)) for address in addresses]

    monkeypatch.setattr(socket, "getaddrinfo", answer)


def settle(made: Link, seconds: int = 8) -> None:
    """Some seconds of housekeeping."""
    for _ in range(seconds):
        made.housekeep()
        if made._looking:
            made._looking.join()


def test_a_name_that_is_found_late(receiver: socket.socket, address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    found(monkeypatch)
    made = link("garden-box.example")
    settle(made)
    made.send(PACKET)
    assert (made.dropped, made.trouble) == (1, "its name has not been found")
    found(monkeypatch, address)
    settle(made)
    made.send(PACKET)
    assert drain(receiver) == [b"light"]
    made.close()


def test_a_name_for_a_public_address_is_not_sent_to(monkeypatch: pytest.MonkeyPatch) -> None:
    found(monkeypatch, "8.8.8.8")
    made = link("garden-box.example")
    settle(made)
    made.send(PACKET)
    assert made._socket is None
    assert (made.sent, made.trouble) == (0, "8.8.8.8 is a public address")


def test_multicast_stays_on_the_local_network() -> None:
    # RFC 1112, 6.1: a time to live of 1. Nothing is sent here.
    made = Link("multicast", 5568, allow_public=False, interface="127.0.0.1")
    assert made._socket is not None
    assert made._socket.getsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_TTL) == 1
    assert made._socket.getsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, 4) == socket.inet_aton("127.0.0.1")
    made.close()


def test_multicast_goes_to_the_group_of_each_universe(monkeypatch: pytest.MonkeyPatch) -> None:
    made = Link("multicast", 5568, allow_public=False, interface="")
    made.close()
    sent: list[tuple[bytes, tuple[str, int]]] = []

    class Groups(Network):
        def sendto(self, octets: memoryview, group: tuple[str, int]) -> None:
            sent.append((bytes(octets), group))

    made._socket = Groups()  # type: ignore[assignment]
    made.target(1)(PACKET)
    made.target(513)(PACKET)
    assert sent == [(b"light", ("239.255.0.1", 5568)), (b"light", ("239.255.2.1", 5568))]


def test_one_link_for_each_address() -> None:
    links = Links()
    assert links.to("127.0.0.1") is links.to("127.0.0.1")
    links.to("127.0.0.2")
    links.to("127.0.0.1").sent = 7
    links.keep_only(["127.0.0.2"])
    assert links.sent == 7  # what was sent stays counted
    assert [each.address for each in links] == ["127.0.0.2"]
    links.close()


def test_an_address_that_is_seldom_sent_to_is_in_trouble_until_something_got_there() -> None:
    """Multicast where no controller is: universe discovery every ten seconds, looked after every second."""
    made = Link("multicast", 5568, allow_public=False, interface="")
    made.close()

    class Groups(Network):
        def sendto(self, octets: memoryview, group: tuple[str, int]) -> None:
            self.send(octets)

    changes = []
    for second in range(25):
        made._socket = Groups(errno.ENETUNREACH if second < 20 else 0)  # type: ignore[assignment]
        if second % 10 == 0:
            made.target(64214)(PACKET)
        if made.housekeep():
            changes.append((second, made.trouble))
        made.close()
    assert changes == [(0, os.strerror(errno.ENETUNREACH)), (20, "")]
