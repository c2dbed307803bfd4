"""When the thread that plays is held up: signs of life, and the end within a second of being asked for."""

import signal
import socket
import subprocess
import sys
import uuid
from itertools import pairwise
from pathlib import Path

import pytest

from eavesong.playback.sender import TICK, Sender, Voice
from eavesong.playback.stop import Stop
from eavesong.playback.understudy import Understudy
from eavesong.playback.wiring import wire
from playback.helpers import RememberingLinks, SimTime, house, moving, until_the_end, write_frames


@pytest.fixture
def sender(network: RememberingLinks, time: SimTime) -> Sender:
    made = Sender(network, Voice(uuid.uuid4(), discovery=False), time)
    described = house(universes=1)
    made.use(wire(described.patch, described.channel_count, "x"), 40.0)
    made.load(moving(described, 1)[0], 0, time.now)
    made.fire(time.now)
    return made


class Looking(Understudy):
    """One that looks when it is told to, not by itself."""

    def __init__(self, sender: Sender, stop: Stop) -> None:
        self._sender, self._stop, self._asked_at = sender, stop, None


def test_signs_of_life_while_nothing_is_played(sender: Sender, network: RememberingLinks, time: SimTime) -> None:
    understudy = Looking(sender, Stop())
    for _ in range(100):
        time.sleep(TICK)
        understudy.look(time.now)
    times = [when for when, _ in network.data(1)]
    assert times[-1] > 1009
    assert all(0.9 <= after - before <= 1.06 for before, after in pairwise(times))


def test_no_signs_of_life_where_nothing_plays(network: RememberingLinks, time: SimTime) -> None:
    idle = Sender(network, Voice(uuid.uuid4(), discovery=False), time)
    described = house(universes=1)
    idle.use(wire(described.patch, described.channel_count, "x"), 40.0)
    Looking(idle, Stop()).look(time.now + 100)
    assert network.data() == []


def test_the_end_in_place_of_a_thread_that_is_held_up(
    sender: Sender, network: RememberingLinks, time: SimTime, stop: Stop
) -> None:
    understudy = Looking(sender, stop)
    stop.ask(signal.SIGTERM)
    asked = time.now
    while time.now < asked + 1.0:
        time.sleep(TICK)
        understudy.look(time.now)
    packets = network.data(1)[1:]
    # E1.31-2018, 6.2.6: three packets with Stream_Terminated; here after one that is black.
    assert [packet.terminated for _, packet in packets] == [False, True, True, True]
    assert all(packet.slots == bytes(512) for _, packet in packets)
    assert packets[-1][0] - asked <= 1.0


def test_whoever_comes_late_sends_nothing_more(sender: Sender, network: RememberingLinks, time: SimTime) -> None:
    sender.close()
    sent = len(network.packets)
    described = house(universes=1)
    sender.use(wire(described.patch, described.channel_count, "x"), 40.0)
    sender.load(moving(described, 2)[1], 1, time.now)
    sender.tick(time.now + 5)
    sender.keep_alive(time.now + 9, 0.9)
    sender.black()
    sender.housekeep(time.now + 20)
    sender.finish()
    assert len(network.packets) == sent


def test_a_signal_is_heard_while_the_main_thread_is_not(sender: Sender, stop: Stop, time: SimTime) -> None:
    stop.heeded = frozenset({signal.SIGTERM})
    understudy = Understudy(sender, stop, time)
    try:
        understudy._note(bytes([signal.SIGTERM]))
        assert understudy._asked_at == time.now
        understudy.look(time.now + 0.7)
        assert stop.asked
    finally:
        understudy.close()


def test_signals_of_others_are_none_of_its_business(sender: Sender, stop: Stop, time: SimTime) -> None:
    understudy = Looking(sender, stop)
    understudy._note(b"\0" + bytes([signal.SIGWINCH]))
    understudy.look(time.now + 0.9)
    assert not stop.asked


HELD_UP = """
import os, sys
from eavesong.playback.session import Settings, on_stage
from eavesong.playback.source import FileSource

source = FileSource(sys.argv[1])
with on_stage(Settings(sound=False, discovery=False, quiet=True)) as stage:
    stage.player.prepare(source)
    stage.sender.load(source.read(3), 3, 0.0)
    stage.sender.fire(stage.time.monotonic())
    os.read(os.pipe()[0], 1)  # nobody ever writes there: a signal of Python's does not end this
"""


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux answers to all of 127.0.0.0/8 as it comes")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_signals_end_with_black_whatever_the_main_thread_does(
    tmp_path: Path, receiver: socket.socket, address: str, number: signal.Signals
) -> None:
    described = house((address,), universes=1)
    path = write_frames(tmp_path / "frost.h5", described, moving(described, 40))
    with subprocess.Popen([sys.executable, "-c", HELD_UP, str(path)], stderr=subprocess.DEVNULL) as process:
        receiver.recv(2048)
        process.send_signal(number)
        packets = until_the_end(receiver)
        process.kill()
    assert all(packet.slots == bytes(512) for packet in packets[-4:])
