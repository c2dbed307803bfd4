"""Real processes on terminals, pipes and logs that nobody reads: the lights go on, and signals end them."""

import contextlib
import os
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from playback.helpers import house, moving, until_the_end, write_frames

fcntl = pytest.importorskip("fcntl")
pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="terminals and addresses as Linux has them")

PATIENCE = 60.0


@pytest.fixture
def frost(tmp_path: Path, address: str) -> Path:
    described = house((address,), universes=1)
    return write_frames(tmp_path / "frost.h5", described, moving(described, 40 * 600))


def fill(end: int) -> None:
    """Write until there is no room: whoever writes next waits."""
    flags = fcntl.fcntl(end, fcntl.F_GETFL)
    fcntl.fcntl(end, fcntl.F_SETFL, flags | os.O_NONBLOCK)
    with contextlib.suppress(BlockingIOError):
        while True:
            os.write(end, b"x" * 1024)
    with contextlib.suppress(BlockingIOError):
        while True:
            os.write(end, b"x")
    fcntl.fcntl(end, fcntl.F_SETFL, flags)


@pytest.fixture
def stopped_terminal() -> Iterator[int]:
    """A terminal on which somebody pressed Ctrl-S (termios(3): TCOOFF suspends output)."""
    import termios

    keyboard, screen = os.openpty()
    termios.tcflow(screen, termios.TCOOFF)
    yield screen
    os.close(screen)
    os.close(keyboard)


@pytest.fixture
def unread_terminal() -> Iterator[int]:
    """A terminal that was read once, and is full."""
    keyboard, screen = os.openpty()
    fill(screen)
    yield screen
    os.close(screen)
    os.close(keyboard)


@pytest.fixture
def unread_pipe() -> Iterator[int]:
    reading, writing = os.pipe()
    fill(writing)
    yield writing
    os.close(writing)
    os.close(reading)


@pytest.fixture
def unread_log(tmp_path: Path) -> Iterator[Path]:
    """A log that takes nothing, as a disk that does not answer."""
    path = tmp_path / "log"
    os.mkfifo(path)
    reading = os.open(path, os.O_RDONLY | os.O_NONBLOCK)
    writing = os.open(path, os.O_WRONLY)
    fill(writing)
    yield path
    os.close(writing)
    os.close(reading)


def play_and_end(path: Path, receiver: socket.socket, number: signal.Signals, err: int, *options: str) -> int:
    """Play for some frames, send the signal, and see that it ends with black; the exit code."""
    command = [sys.executable, "-m", "eavesong", "play", str(path), "--silent", *options]
    with subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=err) as process:
        try:
            seen = {receiver.recv(2048)[126:200] for _ in range(30)}  # in vain where the lights are frozen
            assert len(seen) > 2
            process.send_signal(number)
            packets = until_the_end(receiver)
            code = process.wait(PATIENCE)
        finally:
            process.kill()
    assert [packet.terminated for packet in packets[-4:]] == [False, True, True, True]
    assert all(packet.slots == bytes(512) for packet in packets[-4:])
    return code


@pytest.mark.parametrize(("number", "code"), [(signal.SIGINT, 130), (signal.SIGHUP, 0)])
def test_a_stopped_terminal(
    frost: Path, receiver: socket.socket, stopped_terminal: int, number: signal.Signals, code: int
) -> None:
    assert play_and_end(frost, receiver, number, stopped_terminal) == code


def test_a_terminal_that_nobody_reads(frost: Path, receiver: socket.socket, unread_terminal: int) -> None:
    assert play_and_end(frost, receiver, signal.SIGINT, unread_terminal) == 130


def test_a_pipe_that_nobody_reads(frost: Path, receiver: socket.socket, unread_pipe: int) -> None:
    assert play_and_end(frost, receiver, signal.SIGTERM, unread_pipe) == 0


def test_a_log_that_takes_nothing(frost: Path, receiver: socket.socket, unread_log: Path) -> None:
    code = play_and_end(frost, receiver, signal.SIGTERM, subprocess.DEVNULL, "--log", str(unread_log))
    assert code == 0
