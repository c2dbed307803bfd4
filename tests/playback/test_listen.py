"""The receiver's rules: sequence, priority, loss, termination; and the picture it makes."""

import errno
import os
import socket
import uuid

import numpy as np
import pytest

from eavesong.cli.listen import _beside
from eavesong.errors import OutputError
from eavesong.layout import load_layout
from eavesong.playback import listen
from eavesong.playback.listen import MOST_SOURCES, Listener, Universe
from eavesong.playback.packets import DataPacket, data_packet, discovery_packets, sync_packet
from eavesong.playback.picture import HousePicture, blocks, strip, table
from playback.helpers import SimTime, loopback

ONE, TWO = uuid.UUID(int=1), uuid.UUID(int=2)


def packet(sequence: int, *, cid: uuid.UUID = ONE, priority: int = 100, options: int = 0, value: int = 7) -> DataPacket:
    return DataPacket(cid, "Porch", priority, 0, sequence, options, 1, 0, bytes([value]) * 512)


@pytest.mark.parametrize(
    ("last", "sequence", "used"),
    [(255, 0, True), (10, 5, False), (10, 246, True), (5, 250, False), (0, 237, False)],
)
def test_the_five_sequence_cases(last: int, sequence: int, used: bool) -> None:
    # E1.31-2018, 6.7.2, with the difference as a signed 8-bit number (from memory).
    universe = Universe(1)
    universe.take(packet(last, value=1), 0.0)
    assert universe.take(packet(sequence, value=2), 0.1) is used
    assert universe.slots()[0] == (2 if used else 1)
    leader = universe.leader
    assert leader is not None
    assert leader.discarded == (not used)


def test_lost_packets_are_counted() -> None:
    universe = Universe(1)
    for sequence in (254, 255, 2, 3):
        universe.take(packet(sequence), sequence / 10)
    assert universe.leader is not None
    assert universe.leader.lost == 2


def test_silence_for_two_and_a_half_seconds_is_loss() -> None:
    # E1.31-2018, 6.7.1, Appendix A: E131_NETWORK_DATA_LOSS_TIMEOUT 2.5 s.
    universe = Universe(1)
    universe.take(packet(1), 10.0)
    universe.forget(12.5)
    assert universe.leader is not None
    universe.forget(12.51)
    assert universe.leader is None
    assert universe.slots() == bytes(512)


def test_termination_is_loss_at_once() -> None:
    universe = Universe(1)
    universe.take(packet(1), 0.0)
    universe.take(packet(2, options=0x40), 0.1)
    assert universe.leader is None


def test_what_has_ended_is_told_all_the_same(time: SimTime) -> None:
    ear = Listener([1, 2, 3], address=loopback(), time=time)
    for sequence in range(40):
        for universe in (1, 2):
            ear.take(data_packet(universe, b"\1", cid=ONE.bytes, source_name="Porch", sequence=sequence), time.now)
        time.sleep(0.025)
    for _ in range(3):
        ear.take(data_packet(1, b"\0", cid=ONE.bytes, source_name="Porch", sequence=50, options=0x40), time.now)
    time.sleep(3.0)
    ear.hear(0.0)
    assert [universe.leader for universe in ear.heard()] == [None, None]
    told = [line.split() for line in table(ear)[1:]]
    assert told == [
        ["1", "Porch", "100", "40.0", "40", "0", "0", "ended"],
        ["2", "Porch", "100", "40.0", "40", "0", "0", "fell", "silent"],
        ["nothing", "in", "universe", "3"],
    ]
    ear.close()


def test_two_sources_of_one_name_are_told_apart(time: SimTime) -> None:
    ear = Listener([1, 2], address=loopback(), time=time)
    for universe, cid in ((1, ONE), (1, uuid.UUID("abcdef00-0000-4000-8000-000000000000")), (2, ONE)):
        ear.take(data_packet(universe, b"\1", cid=cid.bytes, source_name="eavesong"), time.now)
    assert [line[10:30].strip() for line in table(ear)[1:]] == ["eavesong 000000", "eavesong abcdef", "eavesong 000000"]
    ear.close()


def test_a_source_that_comes_back_counts_on() -> None:
    universe = Universe(1)
    for sequence in range(5):
        universe.take(packet(sequence), sequence / 10)
    universe.take(packet(5, options=0x40), 0.5)
    universe.take(packet(100), 60.0)
    universe.take(packet(101), 60.1)
    heard = universe.leader
    assert heard is not None
    assert (heard.packets, heard.lost, heard.ended, universe.past) == (7, 0, "", {})
    assert heard.rate == pytest.approx(6 / 0.5)  # the minute of silence does not count


def test_a_range_of_all_universes_is_told_in_a_line_each_for_those_heard(time: SimTime) -> None:
    ear = Listener(range(1, 64000), address=loopback(), time=time)
    for universe in (7, 9):
        ear.take(data_packet(universe, b"\1", cid=ONE.bytes, source_name="Porch"), time.now)
    lines = table(ear)
    assert len(lines) == 4
    assert lines[-1] == "  nothing in universes 1 to 6, 8, 10 to 63999"
    ear.close()


def test_more_groups_than_the_system_allows(monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object, **_more: object) -> None:
        raise OSError(errno.EMFILE, os.strerror(errno.EMFILE))

    monkeypatch.setattr(listen, "_open", full)
    with pytest.raises(OutputError, match=r"5,000 multicast groups.*\n.*fewer universes, or listen to one --address"):
        Listener(range(1, 5000))


def test_all_multicast_groups_at_once_are_refused_before_any_is_joined(monkeypatch: pytest.MonkeyPatch) -> None:
    """The kernel takes minutes over them, and no signal ends that."""

    def open_none(*_arguments: object) -> None:
        raise AssertionError("a group was joined")

    monkeypatch.setattr(listen, "_open", open_none)
    with pytest.raises(OutputError, match=r"64,000 multicast groups.*\n.*listen to one --address"):
        Listener(range(1, 64_000), time=SimTime())


def test_what_has_arrived_is_taken_in_however_short_the_time_is(time: SimTime) -> None:
    address = loopback()
    ear = Listener([1], address=address)
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
        sender.sendto(data_packet(1, b"\1", cid=ONE.bytes, source_name="Porch"), (address, 5568))
    assert ear.hear(0.0) == 1
    ear.close()


def test_strangers_who_come_and_go_cannot_fill_the_memory_either() -> None:
    universe = Universe(1)
    for number in range(1000):
        universe.take(packet(1, cid=uuid.UUID(int=number + 1)), 0.0)
        universe.take(packet(2, cid=uuid.UUID(int=number + 1), options=0x40), 0.0)
    assert len(universe.past) == MOST_SOURCES


def test_the_higher_priority_counts() -> None:
    # E1.31-2018, 6.2.3.
    universe = Universe(1)
    universe.take(packet(1, value=5), 0.0)
    universe.take(packet(1, cid=TWO, priority=120, value=9), 0.0)
    assert universe.slots()[0] == 9
    universe.take(packet(2, cid=TWO, priority=120, options=0x40), 0.1)
    assert universe.slots()[0] == 5


def test_strangers_cannot_fill_the_memory() -> None:
    universe = Universe(1)
    for number in range(1000):
        universe.take(packet(1, cid=uuid.UUID(int=number + 1)), 0.0)
    assert len(universe.sources) == MOST_SOURCES


def test_an_ear_sorts_what_arrives() -> None:
    ear = Listener([1], address=loopback())
    ear.take(data_packet(1, b"\5\6\7", cid=ONE.bytes, source_name="Porch"), 1.0)
    ear.take(data_packet(2, b"\5", cid=ONE.bytes, source_name="Porch"), 1.0)
    ear.take(sync_packet(9, cid=ONE.bytes), 1.0)
    for page in discovery_packets(range(1, 600), cid=ONE.bytes, source_name="Porch"):
        ear.take(page, 1.0)
    ear.take(b"nonsense", 1.0)
    assert ear.universes[1].slots()[:4] == b"\5\6\7\0"
    assert ear.discovered == {ONE: ("Porch", set(range(1, 600)))}
    assert (ear.synchronised, ear.others) == ({9: 1.0}, 2)
    assert "Porch" in table(ear)[1]
    ear.close()


def test_a_port_that_is_taken() -> None:
    address = loopback()
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as taken:
        taken.bind((address, 5568))  # and not to be shared
        with pytest.raises(OutputError, match="cannot be listened to: Address already in use"):
            Listener([1], address=address)


def test_two_listeners_know_of_each_other() -> None:
    # Sockets that share a port do not share what is sent to one address: one of them gets it (socket(7), SO_REUSEADDR).
    address = loopback()
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as free:
        free.bind((address, 0))
        port = free.getsockname()[1]
    first = Listener([1], address=address, port=port)
    second = Listener([1], address=address, port=port)
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
        sender.sendto(data_packet(1, b"\1", cid=ONE.bytes, source_name="Porch"), (address, port))
    assert first.hear(0.0) + second.hear(0.0) == 2  # one of them the greeting, which counts for nothing
    assert (first.others, first.beside_another, second.beside_another) == (0, True, True)
    first.close()
    second.close()


def test_a_listener_of_many_groups_does_not_take_itself_for_another(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("eavesong.playback.listen.GROUPS", 2)  # as 20 are on Linux: then there is another socket
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as free:
        free.bind(("", 0))
        port = free.getsockname()[1]
    ear = Listener([1, 2, 3], port=port, interface="127.0.0.1")
    ear.hear(0.0)
    assert not ear.beside_another
    ear.close()


def test_without_multicast_what_is_sent_to_this_computer_is_heard(monkeypatch: pytest.MonkeyPatch) -> None:
    class Lonely(socket.socket):
        """As on a computer whose network carries no multicast (Linux, ip(7): ENODEV where no device fits)."""

        def setsockopt(self, level: int, name: int, *value: int) -> None:
            if (level, name) == (socket.IPPROTO_IP, socket.IP_ADD_MEMBERSHIP):
                raise OSError(errno.ENODEV, os.strerror(errno.ENODEV))
            super().setsockopt(level, name, *value)

    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as free:
        free.bind(("", 0))
        port = free.getsockname()[1]
    monkeypatch.setattr("socket.socket", Lonely)
    ear = Listener(range(1, 50), port=port)
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
        sender.sendto(data_packet(1, b"\1", cid=ONE.bytes, source_name="Porch"), ("127.0.0.1", port))
    assert ear.hear(1.0) == 1
    assert ear.only_here
    assert "No network of this computer carries multicast" in " ".join(_beside(ear))
    ear.close()
    with pytest.raises(OutputError, match="cannot be listened to"):
        Listener([1], port=port, interface="127.0.0.1")


def test_pictures_are_half_blocks_in_full_colour() -> None:
    # ISO 8613-6 by way of ECMA-48's SGR: 38;2;r;g;b for the letter, 48;2;r;g;b behind it.
    picture = np.array([[[255, 0, 0], [255, 0, 0]], [[0, 0, 255], [0, 0, 255]]], np.uint8)
    assert blocks(picture) == ["\x1b[38;2;255;0;0;48;2;0;0;255m▀▀\x1b[0m"]
    assert len(blocks(picture[:1])) == 1


def test_a_universe_as_a_strip() -> None:
    # 170 pixels of three slots, 80 in a row, two rows in a line.
    lines = strip(bytes([9, 8, 7]) * 170 + b"\0\0")
    assert len(lines) == 2
    assert "38;2;9;8;7;48;2;9;8;7" in lines[0]
    assert sum(line.count("▀") for line in lines) == 160


HOUSE = """
title = "Two lines"
[[prop]]
name = "low"
shape = "line"
from = [0, 0]
to = [8, 0]
pixels = 8
[[prop]]
name = "high"
shape = "line"
from = [0, 4]
to = [8, 4]
pixels = 8
[[controller]]
name = "attic"
address = "192.0.2.7"
[[controller.output]]
number = 1
chain = ["low"]
order = "GRB"
[[controller.output]]
number = 2
chain = ["high"]
"""


def test_a_mis_wired_prop_shows_where_it_lights(tmp_path_factory: pytest.TempPathFactory) -> None:
    path = tmp_path_factory.mktemp("house") / "house.toml"
    path.write_text(HOUSE)
    picture = HousePicture(load_layout(path), width=16, rows=4)
    low = picture.draw({1: bytes([0, 200, 0]) * 8})  # green, red, blue on the wire: red
    assert "200;0;0" not in low[0]
    assert "200;0;0" in low[-1]
    high = picture.draw({2: bytes([200, 0, 0]) * 8})
    assert "200;0;0" in high[0]
    assert "200;0;0" not in high[-1]


def test_one_green_lamp_at_the_beginning_of_a_white_wire_is_seen(tmp_path_factory: pytest.TempPathFactory) -> None:
    """As `identify` shows it: several lamps share a cell, and white is as bright as green."""
    path = tmp_path_factory.mktemp("house") / "house.toml"
    path.write_text(HOUSE)
    picture = HousePicture(load_layout(path), width=8, rows=2)
    lines = picture.draw({1: bytes([26, 0, 0]) + bytes([26, 26, 26]) * 7})  # green, red, blue on the wire
    assert ";0;26;0m" in lines[-1]
    assert "26;26;26" in lines[-1]
