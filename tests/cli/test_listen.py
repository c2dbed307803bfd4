"""``eavesong listen``: which universes are meant, and what is told however it ends."""

import contextlib
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from eavesong.cli.listen import fitted
from eavesong.playback.listen import Listener
from playback.helpers import loopback


@pytest.mark.parametrize("words", [[], ["0"], ["64000"], ["1-"], ["four"], ["9-4"], ["1", "--interface", "eth0"]])
def test_what_is_no_universe_ends_with_2(eavesong, words):
    """ANSI E1.31-2018, 6.2.7: universes 1 to 63999 carry data."""
    assert eavesong("listen", *words, "--seconds", "0.1").code == 2


def test_a_house_that_is_not_there_ends_with_3(eavesong, tmp_path):
    assert eavesong("listen", "--layout", tmp_path / "house.toml", "--seconds", "0.1").code == 3


def test_a_second_window_is_told_of_the_first(eavesong):
    address = loopback()
    with contextlib.closing(Listener([1], address=address)):
        beside = eavesong("listen", "1", "--address", address, "--seconds", "0.1")
    assert beside.code == 0
    assert "Another program listens for E1.31 on this computer." in beside.err
    assert "nothing in universe 1" in beside.out
    assert "bytes as they are sent" in beside.err


def test_what_does_not_fit_a_terminal_is_counted() -> None:
    lines = [f"line {number}" for number in range(30)]
    assert fitted(lines, 30) == lines
    assert fitted(lines, 24) == [*lines[:23], "… and 7 more lines, all told at the end"]


@pytest.mark.skipif(sys.platform != "linux", reason="looks into /proc; Windows ends processes without asking them")
def test_asked_to_end_it_tells_what_it_heard(tmp_path: Path) -> None:
    """In universes that nobody plays on this computer meanwhile."""
    with open(tmp_path / "heard.txt", "w") as out:
        listening = subprocess.Popen(
            [sys.executable, "-m", "eavesong", "listen", "61001-61003", "--address", "127.0.0.1"], stdout=out
        )
        found = Path(f"/proc/{listening.pid}/fd")
        end = time.monotonic() + 300
        while not any("socket" in os.readlink(link) for link in found.iterdir() if link.is_symlink()):
            assert time.monotonic() < end
            time.sleep(0.05)
        listening.send_signal(signal.SIGTERM)
        assert listening.wait(300) == 128 + signal.SIGTERM
    assert "nothing in universes 61001 to 61003" in (tmp_path / "heard.txt").read_text()
