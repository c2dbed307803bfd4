"""``eavesong watch``: what it is given, and how it ends."""

import socket

import pytest
from click.testing import CliRunner

from eavesong.cli.watch import command
from eavesong.errors import EavesongError, OutputError
from watched import SHOW, write_all


def run(*words):
    return CliRunner().invoke(command, [str(word) for word in words])


@pytest.fixture
def files(tmp_path):
    write_all(tmp_path)
    return tmp_path / "two.show.toml", tmp_path / "house.toml"


def test_once_is_for_scripts(files):
    """It tells what `eavesong check` and `eavesong limits` would: here, that no supply is named; ends with 1 then."""
    show, house = files
    done = run(show, "--layout", house, "--once")
    supply, frames = done.output.splitlines()
    assert done.exit_code == 1
    assert supply.startswith("supply: 300 pixels have no supply")
    assert frames.startswith("320 frames of 300 pixels")
    assert run(show, "--layout", house, "--once", "--quiet").output == ""
    show.write_text(SHOW[:100])
    assert isinstance(run(show, "--layout", house, "--once").exception, EavesongError)


def test_an_effect_needs_no_house(files):
    done = run(files[0].parent / "glow.toml", "--once")
    assert done.exit_code == 0, done.output
    assert "2,560 frames of 5,118 pixels" in done.output  # 32 bars of two seconds on the shipped house


def test_a_show_needs_one(files):
    done = run(files[0], "--once")
    assert done.exit_code == 2
    assert "--layout house.toml" in done.output


@pytest.mark.parametrize("words", [("--at", "soon"), ("--loop", "bar 1", "later")])
def test_times_are_looked_at_before_anything_is_served(files, words):
    show, house = files
    done = run(show, "--layout", house, *words)
    assert done.exit_code == 2
    assert "is not a time" in done.output


def test_a_port_in_use(files):
    show, house = files
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        fault = run(show, "--layout", house, "--no-browser", "--port", taken.getsockname()[1]).exception
    assert isinstance(fault, OutputError)
    assert "cannot be listened on" in str(fault)
    assert "Name another, like --port" in str(fault)
