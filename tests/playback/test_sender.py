"""What goes out when: sequence numbers, silence, signs of life, synchronisation, discovery, and the end."""

import uuid
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavesong.frames import Description
from eavesong.playback.packets import DiscoveryPacket, SyncPacket, is_newer, read_packet
from eavesong.playback.sender import Sender, Voice
from eavesong.playback.wiring import Wiring, wire
from playback.helpers import RememberingLinks, SimTime, house, moving, still

CID = uuid.uuid4()


def wiring_of(description: Description) -> Wiring:
    return wire(description.patch, description.channel_count, "frost.h5")


def run(sender: Sender, time: SimTime, frames: np.ndarray, frame_rate: float = 40.0) -> None:
    """Load and fire each frame at its moment."""
    start = time.now
    for number, frame in enumerate(frames):
        at = start + number / frame_rate
        time.sleep(at - time.now)
        sender.load(frame, number, at)
        sender.fire(at)


@pytest.fixture
def sender(network: RememberingLinks, time: SimTime) -> Sender:
    return Sender(network, Voice(CID, "Porch", 120, discovery=False), time)


def test_every_universe_carries_its_slots_and_the_voice(
    sender: Sender, network: RememberingLinks, time: SimTime
) -> None:
    described = house(universes=3)
    frames = moving(described, 5)
    sender.use(wiring_of(described), 40.0)
    run(sender, time, frames)
    for universe in (1, 2, 3):
        packets = [packet for _, packet in network.data(universe)]
        shown = frames[:, (universe - 1) * 510 : universe * 510]
        assert [packet.slots for packet in packets] == [row.tobytes() + b"\0\0" for row in shown]
        assert {(packet.cid, packet.source_name, packet.priority) for packet in packets} == {(CID, "Porch", 120)}
        assert {(packet.options, packet.start_code, packet.sync_address) for packet in packets} == {(0, 0, 0)}


def test_each_universe_counts_for_itself_and_wraps(sender: Sender, network: RememberingLinks, time: SimTime) -> None:
    # E1.31-2018, 6.2.5: one sequence for each universe.
    described = house(universes=2)
    sender.use(wiring_of(described), 40.0)
    frames = moving(described, 600)
    frames[1::2, 510:] = frames[0::2, 510:]  # universe 2 changes every second frame only
    run(sender, time, frames)
    for universe in (1, 2):
        numbers = [packet.sequence for _, packet in network.data(universe)]
        assert [after for _, after in pairwise(numbers)] == [(n + 1) % 256 for n in numbers[:-1]]
        assert len(numbers) > 256


def test_a_still_universe_falls_silent_after_three_packets(
    sender: Sender, network: RememberingLinks, time: SimTime
) -> None:
    # E1.31-2018, 6.6.2: three packets of the same values, then one every 800 to 1,000 ms.
    described = house(universes=1)
    sender.use(wiring_of(described), 40.0)
    run(sender, time, still(described, 9, 400))
    times = [when for when, _ in network.data(1)]
    gaps = np.diff(times)
    assert gaps[:2] == pytest.approx([0.025, 0.025])
    assert ((gaps[2:] >= 0.8) & (gaps[2:] <= 1.0)).all()
    assert len(gaps) >= 12
    assert [packet.sequence for _, packet in network.data(1)] == list(range(1, len(times) + 1))


def test_a_change_ends_the_silence_at_once(sender: Sender, network: RememberingLinks, time: SimTime) -> None:
    described = house(universes=2)
    frames = still(described, 9, 30)
    frames[20:, :510] = 10
    sender.use(wiring_of(described), 40.0)
    run(sender, time, frames)
    assert [round((when - 1000) * 40) for when, _ in network.data(1)] == [0, 1, 2, 20, 21, 22]
    assert [round((when - 1000) * 40) for when, _ in network.data(2)] == [0, 1, 2]


def test_ticks_keep_alive_without_frames(sender: Sender, network: RememberingLinks, time: SimTime) -> None:
    described = house(universes=1)
    sender.use(wiring_of(described), 1.0)
    run(sender, time, still(described, 9, 1))
    for _ in range(40):
        time.sleep(0.1)
        sender.tick(time.now)
    gaps = np.diff([when for when, _ in network.data(1)])
    assert len(gaps) == 4
    assert ((gaps >= 0.8) & (gaps <= 1.0)).all()


@settings(max_examples=30)
@given(
    frame_rate=st.floats(5, 120),
    changes=st.lists(st.booleans(), min_size=20, max_size=120),
)
def test_never_silent_for_more_than_a_second(frame_rate: float, changes: list[bool]) -> None:
    time = SimTime()
    network = RememberingLinks(time)
    sender = Sender(network, Voice(CID, discovery=False), time)
    described = house(universes=1, pixels=4)
    sender.use(wiring_of(described), frame_rate, ceiling=False)
    values = np.cumsum(changes) % 200
    frames = np.repeat(values[:, None], 12, axis=1).astype(np.uint8)
    start = time.now
    for number, frame in enumerate(frames):
        due = start + number / frame_rate
        while time.now < due:
            time.sleep(min(0.1, due - time.now))
            if time.now < due:
                sender.tick(time.now)
        sender.load(frame, number, due)
        sender.fire(due)
    packets = network.data(1)
    assert all(b - a <= 1.0 + 1e-6 for (a, _), (b, _) in pairwise(packets))
    assert all(is_newer(b.sequence, a.sequence) for (_, a), (_, b) in pairwise(packets))
    assert packets[-1][1].slots[:12] == frames[-1].tobytes()


def test_no_faster_than_a_line_refreshes(sender: Sender, network: RememberingLinks, time: SimTime) -> None:
    # E1.31-2018, 6.6.1; ANSI E1.11: 22,676 µs for a packet of 512 slots.
    described = house(universes=1, frame_rate=60.0)
    sender.use(wiring_of(described), 60.0)
    run(sender, time, moving(described, 120), 60.0)
    assert np.diff([when for when, _ in network.data(1)]).min() >= 22_676e-6
    assert len(network.data(1)) == 60


def test_the_user_may_lift_the_ceiling(sender: Sender, network: RememberingLinks, time: SimTime) -> None:
    described = house(universes=1, frame_rate=60.0)
    sender.use(wiring_of(described), 60.0, ceiling=False)
    run(sender, time, moving(described, 120), 60.0)
    assert len(network.data(1)) == 120


def test_a_slow_controller_gets_fewer_frames(sender: Sender, network: RememberingLinks, time: SimTime) -> None:
    described = house(("192.0.2.7", "192.0.2.8"), universes=2)
    patch = tuple(
        row if row.universe == 1 else type(row)(**{**row.__dict__, "frame_rate_limit": 20.0}) for row in described.patch
    )
    sender.use(wire(patch, described.channel_count, "frost.h5"), 40.0)
    run(sender, time, moving(described, 40))
    assert (len(network.data(1)), len(network.data(2))) == (40, 20)


def test_synchronisation(network: RememberingLinks, time: SimTime) -> None:
    # E1.31-2018, 6.3, 11: data packets name the address, one packet releases them; Force_Synchronization stays 0.
    sender = Sender(network, Voice(CID, sync_address=7962, sync_delay=0.002, discovery=False), time)
    described = house(universes=2)
    sender.use(wiring_of(described), 40.0)
    run(sender, time, moving(described, 3))
    kinds = [type(read_packet(octets)).__name__ for _, _, octets in network.packets]
    assert kinds == ["DataPacket", "DataPacket", "SyncPacket"] * 3
    assert {(packet.sync_address, packet.options) for _, packet in network.data()} == {(7962, 0)}
    released = [(when, where, read_packet(octets)) for when, where, octets in network.packets[2::3]]
    assert [packet.sequence for _, _, packet in released if isinstance(packet, SyncPacket)] == [1, 2, 3]
    assert {where for _, where, _ in released} == {"multicast"}  # 6.3.3.1
    assert [when - 1000 for when, _, _ in released] == pytest.approx([0.002, 0.027, 0.052])  # 11.2.2


def test_discovery_lists_the_universes_every_ten_seconds(network: RememberingLinks, time: SimTime) -> None:
    # E1.31-2018, Appendix A: E131_UNIVERSE_DISCOVERY_INTERVAL 10 s; 12.2.
    sender = Sender(network, Voice(CID, "Porch"), time)
    sender.use(wiring_of(house(universes=3)), 40.0)
    for _ in range(31):
        sender.housekeep(time.now)
        time.sleep(1.0)
    found = [(when, read_packet(octets)) for when, where, octets in network.packets if where == "multicast"]
    assert [when - 1000 for when, _ in found] == [0, 10, 20, 30]
    assert all(isinstance(packet, DiscoveryPacket) and packet.universes == (1, 2, 3) for _, packet in found)


def test_a_rehearsal_on_this_computer_reaches_no_network(network: RememberingLinks, time: SimTime) -> None:
    sender = Sender(network, Voice(CID, sync_address=9), time)
    described = house(("127.0.0.1", "127.0.0.2"))
    sender.use(wiring_of(described), 40.0)
    run(sender, time, moving(described, 2))
    sender.housekeep(time.now)
    assert {where for _, where, _ in network.packets} == {"127.0.0.1", "127.0.0.2"}


def test_the_end_is_black_and_three_terminated_packets(
    sender: Sender, network: RememberingLinks, time: SimTime
) -> None:
    # E1.31-2018, 6.2.6: three packets with Stream_Terminated.
    described = house(universes=2)
    sender.use(wiring_of(described), 40.0)
    run(sender, time, moving(described, 4))
    sender.finish()
    for universe in (1, 2):
        packets = [packet for _, packet in network.data(universe)]
        assert [packet.terminated for packet in packets] == [False] * 5 + [True] * 3
        assert all(packet.slots == bytes(512) for packet in packets[4:])
        assert [packet.sequence for packet in packets] == list(range(1, 9))
    sender.finish()
    sender.tick(time.now + 5)
    assert len(network.data()) == 16  # nothing is sent after the end


def test_another_house_ends_what_it_lacks_and_goes_on_with_the_rest(
    sender: Sender, network: RememberingLinks, time: SimTime
) -> None:
    big, small = house(universes=3), house(universes=2)
    sender.use(wiring_of(big), 40.0)
    run(sender, time, moving(big, 3))
    sender.use(wiring_of(small), 40.0)
    run(sender, time, moving(small, 3))
    assert [packet.terminated for _, packet in network.data(3)] == [False] * 4 + [True] * 3
    assert not any(packet.terminated for _, packet in network.data(1))
    assert [packet.sequence for _, packet in network.data(1)] == list(range(1, 7))


def test_a_stream_that_begins_again_goes_on_counting(sender: Sender, network: RememberingLinks, time: SimTime) -> None:
    described = house(universes=1)
    for _ in range(2):
        sender.use(wiring_of(described), 40.0)
        run(sender, time, moving(described, 3))
        sender.finish()
    assert [packet.sequence for _, packet in network.data(1)] == list(range(1, 15))


def test_unpatched_slots_are_dark(sender: Sender, network: RememberingLinks, time: SimTime) -> None:
    described = house(universes=1, pixels=10)
    sender.use(wiring_of(described), 40.0)
    run(sender, time, still(described, 255))
    assert network.data(1)[0][1].slots == b"\xff" * 30 + bytes(482)
