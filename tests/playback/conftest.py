"""Fixtures of the playback tests; what they are made of is in ``helpers``."""

from __future__ import annotations

import socket
from collections.abc import Iterator

import pytest

from eavesong.playback.status import Status
from eavesong.playback.stop import Stop
from playback.helpers import RememberingLinks, SimTime, loopback


@pytest.fixture(autouse=True)
def _own_installation(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """No test touches the CID of whoever runs it."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path_factory.mktemp("data")))


@pytest.fixture
def time() -> SimTime:
    return SimTime()


@pytest.fixture
def network(time: SimTime) -> RememberingLinks:
    return RememberingLinks(time)


@pytest.fixture
def silent(time: SimTime) -> Status:
    return Status(time, quiet=True)


@pytest.fixture
def stop() -> Stop:
    return Stop()


@pytest.fixture
def address() -> str:
    return loopback()


@pytest.fixture
def other_address() -> str:
    return loopback()


@pytest.fixture
def receiver(address: str) -> Iterator[socket.socket]:
    """A socket that receives what is sent to ``address``."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as made:
        made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        made.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 1 << 20)
        made.bind((address, 5568))
        made.settimeout(60.0)
        yield made
