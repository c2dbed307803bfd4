"""What we send over real sockets of this computer, read by others: sacn, a receiver from PyPI, and tshark, a
dissector. Nothing leaves 127.0.0.0/8."""

import json
import shutil
import signal
import socket
import struct
import subprocess
import sys
import threading
import time as clock
import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest
from sacn.messages.data_packet import DataPacket as SacnData
from sacn.messages.sync_packet import SyncPacket as SacnSync
from sacn.messages.universe_discovery import UniverseDiscoveryPacket as SacnDiscovery
from sacn.receiver import sACNreceiver

from eavesong.playback.clock import SongClock, SystemTime
from eavesong.playback.links import Links
from eavesong.playback.listen import Listener
from eavesong.playback.packets import DataPacket, read_packet
from eavesong.playback.player import Player
from eavesong.playback.sender import Sender, Voice
from eavesong.playback.session import Settings, play
from eavesong.playback.source import FileSource
from eavesong.playback.status import Status
from eavesong.playback.stop import Stop
from eavesong.playback.wiring import wire
from playback.helpers import SimTime, drain, house, moving, still, until_the_end, write_frames

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="only Linux answers to all of 127.0.0.0/8 as it comes")

PATIENCE = 60.0
"""Seconds after which something counts as never happening: a busy computer is no fault."""
CID = uuid.UUID("9f6d4f0e-2c5b-4d8a-8b1c-0a4f7c3b2d19")


def send_some(address: str, frames: int = 4) -> list[bytes]:
    """All three kinds of packets to ``address``, the end included; the frames' slots."""
    described = house((address,), universes=2)
    shown = moving(described, frames)
    links, time = Links(), SystemTime()
    sender = Sender(links, Voice(CID, "Vorgarten ❄", 120, sync_address=7962), time)
    sender.use(wire(described.patch, described.channel_count, "frost.h5"), 40.0)
    sender.housekeep(time.monotonic())
    for number, frame in enumerate(shown):
        sender.load(frame, number, time.monotonic())
        sender.fire(time.monotonic())
        clock.sleep(0.025)
    sender.finish()
    links.close()
    return [frame.tobytes() for frame in shown]


# --- sacn -----------------------------------------------------------------------------------------------------------


class Stream:
    """An sacn receiver bound to one address of this computer, and what it told."""

    def __init__(self, address: str, universes: tuple[int, ...]) -> None:
        self.packets: list[SacnData] = []
        self.changes: list[tuple[int, str, float]] = []
        self.receiver = sACNreceiver()
        bound = self.receiver._handler.socket
        bound._socket.close()
        bound._socket = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        bound._socket.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        bound._socket.bind((address, 5568))
        for universe in universes:
            self.receiver.register_listener("universe", self.packets.append, universe=universe)
        self.receiver.register_listener("availability", self._changed)
        self.receiver.start()

    def _changed(self, universe: int, changed: str) -> None:
        self.changes.append((universe, changed, clock.monotonic()))

    def wait_for(self, change: tuple[int, str]) -> None:
        """Wait until the change is told."""
        end = clock.monotonic() + PATIENCE
        while clock.monotonic() < end:
            if any((universe, changed) == change for universe, changed, _ in self.changes):
                return
            clock.sleep(0.01)
        raise AssertionError(f"{change} was never told: {self.changes}")


@pytest.fixture
def sacn_receiver(address: str) -> Iterator[Stream]:
    heard = Stream(address, (1, 2))
    yield heard
    heard.receiver.stop()


def test_an_independent_receiver_follows_the_stream(sacn_receiver: Stream, address: str) -> None:
    frames = send_some(address)
    sacn_receiver.wait_for((2, "timeout"))  # sacn's word for a stream that ended
    first = [packet for packet in sacn_receiver.packets if packet.universe == 1]
    assert [bytes(packet.dmxData)[:510] for packet in first] == [*(frame[:510] for frame in frames), bytes(510)]
    assert {(packet.sourceName, packet.priority, packet.syncAddr) for packet in first} == {("Vorgarten ❄", 120, 7962)}
    assert {bytes(packet.cid) for packet in first} == {CID.bytes}
    assert {universe for universe, changed, _ in sacn_receiver.changes if changed == "available"} == {1, 2}


def test_an_independent_library_reads_all_three_kinds(receiver: socket.socket, address: str) -> None:
    send_some(address)
    octets = drain(receiver)
    kinds = {0x04: [], 0x01: [], 0x02: []}  # type: dict[int, list[bytes]]
    for packet in octets:
        extended = packet[21] == 0x08
        kinds[0x04 if not extended else packet[43]].append(packet)
    data = [SacnData.make_data_packet(list(packet)) for packet in kinds[0x04]]
    assert len(data) == 2 * (4 + 1 + 3)
    assert sum(packet.option_StreamTerminated for packet in data) == 6
    syncs = [SacnSync.make_sync_packet(list(packet)) for packet in kinds[0x01]]
    assert [(packet.syncAddr, packet.sequence) for packet in syncs] == [(7962, n) for n in (1, 2, 3, 4)]
    (discovery,) = [SacnDiscovery.make_universe_discovery_packet(list(packet)) for packet in kinds[0x02]]
    assert (discovery.universes, discovery.sourceName, discovery.page, discovery.lastPage) == (
        (1, 2), "Vorgarten ❄", 0, 0,
    )  # fmt: skip
    # And its own packets are ours, octet by octet.
    for ours, theirs in zip(kinds[0x01] + kinds[0x02], [*syncs, discovery], strict=True):
        assert bytes(theirs.getBytes()) == ours
    for ours, theirs in zip(kinds[0x04], data, strict=True):
        assert bytes(theirs.getBytes()) == ours


# --- tshark ---------------------------------------------------------------------------------------------------------

FIELDS = (
    "udp.dstport", "acn.preamble_size", "acn.postamble_size", "acn.packet_identifier", "acn.protocol_id", "acn.cid",
    "acn.dmx.source_name", "acn.dmx.priority", "acn.dmx.seq_number", "acn.dmx.option_p", "acn.dmx.option_s",
    "acn.dmx.universe", "acn.dmx.first_property_address", "acn.dmx.increment", "acn.dmx.count",
    "acn.pdu.length", "_ws.malformed",
)  # fmt: skip

needs_tshark = pytest.mark.skipif(not shutil.which("tshark"), reason="tshark is not installed")


def capture(address: str, folder: Path) -> Path:
    """A capture of what goes to ``address``: live from the loopback interface, or of the octets that arrived."""
    path = folder / "live.pcap"
    wanted = f"udp and host {address}"
    command = ["tshark", "-q", "-i", "lo", "-F", "pcap", "-w", str(path), "-f", wanted, "-a", "duration:10"]
    live = subprocess.Popen(command, stderr=subprocess.PIPE, text=True)
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as receiver:
        receiver.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 1 << 20)
        receiver.bind((address, 5568))
        _until_capturing(path, live)
        send_some(address)
        arrived = drain(receiver)
    clock.sleep(0.3)
    live.send_signal(signal.SIGINT)
    live.communicate(timeout=PATIENCE)
    # Headers of libpcap's format (24 and 16 octets), of the loopback interface (14), IPv4 (20) and UDP (8).
    whole = 24 + sum(16 + 14 + 20 + 8 + len(octets) for octets in arrived)
    if live.returncode or not path.exists() or path.stat().st_size < whole:
        write_pcap(folder / "written.pcap", address, arrived)
        return folder / "written.pcap"
    return path


def _until_capturing(path: Path, live: subprocess.Popen[str]) -> None:
    end = clock.monotonic() + 5
    while clock.monotonic() < end and live.poll() is None and not path.exists():
        clock.sleep(0.05)
    clock.sleep(0.5)


def write_pcap(path: Path, address: str, arrived: list[bytes]) -> None:
    """The octets with the IPv4 and UDP headers (RFC 791, 768) they came with, in libpcap's format, link type 101."""
    with path.open("wb") as file:
        file.write(struct.pack("<IHHiIII", 0xA1B2C3D4, 2, 4, 0, 0, 65535, 101))
        for octets in arrived:
            udp = struct.pack(">HHHH", 40000, 5568, 8 + len(octets), 0) + octets
            ends = socket.inet_aton("127.0.0.1") + socket.inet_aton(address)
            packet = struct.pack(">BBHHHBBH", 0x45, 0, 20 + len(udp), 0, 0, 64, 17, 0) + ends + udp
            file.write(struct.pack("<IIII", 0, 0, len(packet), len(packet)) + packet)


def dissect(path: Path) -> list[dict[str, list[str]]]:
    """What tshark calls the fields of each packet."""
    names = [part for field in FIELDS for part in ("-e", field)]
    enabled = ("--enable-heuristic", "acn", "-o", "acn.dmx_enable:TRUE")  # both are off as tshark comes
    command = ["tshark", "-r", str(path), "-T", "json", *enabled, *names]
    found = subprocess.run(command, capture_output=True, text=True, check=True, timeout=60)
    return [packet["_source"]["layers"] for packet in json.loads(found.stdout)]


@needs_tshark
def test_an_independent_dissector_names_every_field(address: str, tmp_path: Path) -> None:
    packets = dissect(capture(address, tmp_path))
    assert len(packets) == 2 * (4 + 1 + 3) + 4 + 1
    assert not any("_ws.malformed" in packet for packet in packets)
    # tshark 4.0 knows data packets only; synchronisation and discovery are read by sacn above.
    data = [packet for packet in packets if packet.get("acn.protocol_id") == ["4"]]
    assert len(data) == 16
    for packet in data:
        expected = {
            "udp.dstport": "5568", "acn.preamble_size": "16", "acn.postamble_size": "0",
            "acn.packet_identifier": "ASC-E1.17", "acn.cid": str(CID), "acn.dmx.source_name": "Vorgarten ❄",
            "acn.dmx.priority": "120", "acn.dmx.option_p": "0", "acn.dmx.first_property_address": "0",
            "acn.dmx.increment": "1", "acn.dmx.count": "513",
        }  # fmt: skip
        assert {name: packet[name][0].replace("False", "0") for name in expected} == expected
        # E1.31-2018, Table 4-1, by the rules of 5.4, 6.1 and 7.1: 622, 600 and 523 octets.
        assert packet["acn.pdu.length"] == ["622", "600", "523"]
    for universe in ("1", "2"):
        stream = [packet for packet in data if packet["acn.dmx.universe"] == [universe]]
        assert [int(packet["acn.dmx.seq_number"][0]) for packet in stream] == list(range(1, 9))
        ends = [packet["acn.dmx.option_s"][0] in ("1", "True") for packet in stream]
        assert ends == [False] * 5 + [True] * 3


# --- ends -----------------------------------------------------------------------------------------------------------


@pytest.fixture
def frost(tmp_path: Path, address: str) -> Path:
    described = house((address,))
    return write_frames(tmp_path / "frost.h5", described, moving(described, 30 * 40))


def start(path: Path, *options: str) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "eavesong", "play", str(path), "--silent", *options]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


@pytest.mark.parametrize(
    ("number", "code", "word"), [(signal.SIGINT, 130, "Interrupted."), (signal.SIGTERM, 0, ""), (signal.SIGHUP, 0, "")]
)
def test_signals_end_with_black_and_termination(
    frost: Path, receiver: socket.socket, number: signal.Signals, code: int, word: str
) -> None:
    process = start(frost)
    for _ in range(20):
        receiver.recv(2048)
    process.send_signal(number)
    packets = until_the_end(receiver, 2)
    _, told = process.communicate(timeout=PATIENCE)
    assert process.returncode == code
    assert word in told
    assert "Traceback" not in told
    for universe in (1, 2):
        stream = [packet for packet in packets if packet.universe == universe]
        assert [packet.terminated for packet in stream[-4:]] == [False, True, True, True]
        assert all(packet.slots == bytes(512) for packet in stream[-4:])


def test_a_kill_leaves_receivers_to_their_own_timeout(frost: Path, sacn_receiver: Stream) -> None:
    # E1.31-2018, 6.7.1, Appendix A: network data loss after 2.5 s.
    process = start(frost)
    sacn_receiver.wait_for((1, "available"))
    process.kill()
    process.communicate()
    sacn_receiver.wait_for((1, "timeout"))
    # sacn tells an end once for each packet that ends a stream (three), and once when its own time is over.
    assert [changed for universe, changed, _ in sacn_receiver.changes if universe == 1] == ["available", "timeout"]


def test_the_end_of_the_song_ends_the_streams(
    frost: Path, receiver: socket.socket, tmp_path: Path, address: str
) -> None:
    described = house((address,))
    short = write_frames(tmp_path / "short.h5", described, moving(described, 10))
    process = start(short, "--log", str(tmp_path / "log.jsonl"))
    _, told = process.communicate(timeout=PATIENCE)
    assert (process.returncode, "Traceback" in told) == (0, False)
    packets = [packet for octets in drain(receiver) if isinstance(packet := read_packet(octets), DataPacket)]
    assert sum(packet.terminated for packet in packets) == 6
    events = [json.loads(line) for line in (tmp_path / "log.jsonl").read_text().splitlines()]
    assert [each["event"] for each in events if each["event"] not in ("state", "withheld")] == ["song", "end"]


def test_a_fault_in_the_middle_ends_the_streams_too(tmp_path: Path, receiver: socket.socket, address: str) -> None:
    described = house((address,))
    path = write_frames(tmp_path / "frost.h5", described, moving(described, 200))

    def fault(number: int, due: float, here: float) -> None:
        if number >= 20:
            raise RuntimeError("a fault")

    with pytest.raises(RuntimeError, match="a fault"):
        play(path, Settings(sound=False, quiet=True), fired=fault)
    packets = [packet for octets in drain(receiver) if isinstance(packet := read_packet(octets), DataPacket)]
    assert sum(packet.terminated for packet in packets) == 6


# --- good beside bad ------------------------------------------------------------------------------------------------


def test_dead_controllers_do_not_hold_up_the_others(
    tmp_path: Path, receiver: socket.socket, address: str, other_address: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One that listens, one that is off (refused), one that swallows everything unread, one whose name nobody knows."""
    answer, askers = threading.Event(), []

    def unknown(*_: object, **__: object) -> None:
        askers.append(threading.current_thread())
        answer.wait(PATIENCE)  # nobody who plays waits for this
        raise socket.gaierror(socket.EAI_AGAIN, "Temporary failure in name resolution")

    monkeypatch.setattr(socket, "getaddrinfo", unknown)
    hole = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    hole.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 1)
    hole.bind((other_address, 5568))
    off = f"{other_address.rpartition('.')[0]}.9"
    described = house((address, off, other_address, "no-such-box.invalid"), universes=4)
    frames = moving(described, 60)
    source = FileSource(write_frames(tmp_path / "frost.h5", described, frames))
    links, time, fired = Links(), SimTime(), []  # type: ignore[var-annotated]
    sender = Sender(links, Voice(CID, discovery=False), time)
    status = Status(time, quiet=True)
    player = Player(sender, time, Stop(), status, fired=lambda *each: fired.append(each))
    assert player.play(source, SongClock(time))
    assert not answer.is_set()
    assert [number for number, _, _ in fired] == list(range(60))
    assert all(here == pytest.approx(due, abs=1e-6) for _, due, here in fired)
    got = [packet for octets in drain(receiver) if isinstance(packet := read_packet(octets), DataPacket)]
    assert [packet.slots[:510] for packet in got] == [frame[:510].tobytes() for frame in frames]
    # No socket is ever asked to wait, and nobody but a thread of its own asks for a name.
    assert [link._socket.getblocking() for link in links if link._socket] == [False] * 3
    assert askers
    assert threading.current_thread() not in askers
    troubled = {link.address for link in links if link.trouble}
    assert troubled == {off, "no-such-box.invalid"}
    answer.set()
    sender.finish()
    links.close()
    hole.close()


# --- our own ear ----------------------------------------------------------------------------------------------------


def test_our_ear_hears_what_we_send(address: str) -> None:
    ear = Listener([1, 2], address=address)
    described = house((address,))
    links, time = Links(), SystemTime()
    sender = Sender(links, Voice(CID, "Porch", sync_address=7962), time)
    sender.use(wire(described.patch, described.channel_count, "x"), 40.0)
    sender.housekeep(time.monotonic())
    for number in range(5):
        sender.load(still(described, number + 1)[0], number, time.monotonic())
        sender.fire(time.monotonic())
        ear.hear(0.02)
    heard = ear.universes[2].leader
    assert heard is not None
    assert (heard.source_name, heard.packets, heard.lost, heard.discarded) == ("Porch", 5, 0, 0)
    assert ear.universes[2].slots() == bytes([5] * 510) + bytes(2)
    assert ear.discovered == {CID: ("Porch", {1, 2})}
    assert list(ear.synchronised) == [7962]
    sender.finish()
    ear.hear(0.05)
    assert ear.universes[1].leader is None
    ear.close()
    links.close()
