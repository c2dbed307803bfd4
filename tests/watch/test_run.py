"""Ports and the one-time run."""

import socket

import pytest

from eavesong.errors import EavesongError, OutputError
from eavesong.watch.run import listening, once
from watched import SHOW, free_port, strobe


def test_a_port_in_use_is_said_and_another_named():
    port = free_port()
    with listening(port, "127.0.0.1"), pytest.raises(OutputError, match=rf"(?s){port} cannot be listened on.*--port"):
        listening(port, "127.0.0.1")


def test_where_nobody_asked_for_a_port_the_next_free_one_is_taken():
    with listening(None, "127.0.0.1") as one, listening(None, "127.0.0.1") as other:
        assert one.getsockname()[1] < other.getsockname()[1]
        assert one.getsockname()[0] == "127.0.0.1"  # this machine only
        assert one.family == socket.AF_INET


def test_once_renders_everything_and_says_what_it_finds(order, tmp_path):
    said = []
    (tmp_path / "two.show.toml").write_text(SHOW.replace("bars = [3, 5]", 'bars = [3, 5]\non = "chimney"'))
    assert once(order, say=said.append) == len(said) - 1 > 0
    assert "320 frames of 300 pixels" in said[-1]


def test_once_tells_of_flashes(order, tmp_path):
    """Ten a second over the whole house are more than the three of WCAG 2.2, SC 2.3.1."""
    strobe(tmp_path)
    said = []
    once(order, say=said.append)
    (told,) = (line for line in said if line.startswith("flashes: "))
    assert "more than three flashes in a second" in told
    assert "allow_flashes" in told  # what to do instead


def test_once_ends_with_every_mistake(order, tmp_path):
    (tmp_path / "two.show.toml").write_text(
        SHOW.replace("opacity = 0.8", "opacty = 0.8").replace('"dusk"\n', '"dask"\n')
    )
    with pytest.raises(EavesongError) as fault:
        once(order)
    assert fault.value.count == 2
