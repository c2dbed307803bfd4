"""The three packets, octet by octet: ANSI E1.31-2018, Tables 4-1 to 4-3 (the 2025 edition was not read).

Lengths follow the rules of 5.4, 6.1, 7.1 and 8.1; the example of Appendix B serves for the places of fields only.
"""

import struct
import uuid

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eavesong.playback.packets import (
    DataPacket,
    data_packet,
    discovery_packets,
    flags_and_length,
    group_address,
    is_newer,
    ranges,
    read_packet,
    source_name_field,
    sync_packet,
)

CID = uuid.UUID("ef07c8dd-0064-4401-a3a2-459ef8e6143e")  # the example of Appendix B
ROOT = bytes.fromhex("0010 0000 4153432d45312e31370000 00".replace(" ", ""))  # Table 4-1, octets 0 to 15


def appendix_b() -> bytes:
    """The values of the example in Appendix B."""
    slots = bytes(n % 256 for n in range(512))
    return data_packet(1, slots, cid=CID.bytes, source_name="Source_A", priority=100, sequence=154, sync_address=7962)


# E1.31-2018, Table 4-1, for 512 slots: octet, size, value.
DATA_TABLE = [
    ("preamble size", 0, 2, 0x0010),
    ("post-amble size", 2, 2, 0x0000),
    ("root flags and length", 16, 2, 0x726E),
    ("root vector", 18, 4, 0x00000004),
    ("framing flags and length", 38, 2, 0x7258),
    ("framing vector", 40, 4, 0x00000002),
    ("priority", 108, 1, 100),
    ("synchronization address", 109, 2, 7962),
    ("sequence number", 111, 1, 154),
    ("options", 112, 1, 0),
    ("universe", 113, 2, 1),
    ("DMP flags and length", 115, 2, 0x720B),
    ("DMP vector", 117, 1, 0x02),
    ("address type and data type", 118, 1, 0xA1),
    ("first property address", 119, 2, 0x0000),
    ("address increment", 121, 2, 0x0001),
    ("property value count", 123, 2, 0x0201),
    ("START code", 125, 1, 0x00),
]


@pytest.mark.parametrize(("field", "octet", "size", "value"), DATA_TABLE)
def test_data_packet_field(field: str, octet: int, size: int, value: int) -> None:
    assert int.from_bytes(appendix_b()[octet : octet + size], "big") == value, field


def test_data_packet_texts_and_slots() -> None:
    packet = appendix_b()
    assert len(packet) == 638
    assert packet[:16] == ROOT
    assert packet[22:38] == CID.bytes
    assert packet[44:108] == b"Source_A" + bytes(56)
    assert packet[126:] == bytes(n % 256 for n in range(512))


@given(count=st.integers(1, 512))
def test_lengths_follow_the_rules_for_any_number_of_slots(count: int) -> None:
    # E1.31-2018, 5.4, 6.1, 7.1: the low 12 bits count from the length field itself to the end of the packet.
    packet = data_packet(1, bytes(count), cid=CID.bytes, source_name="")
    lengths = [int.from_bytes(packet[at : at + 2], "big") for at in (16, 38, 115, 123)]
    assert lengths == [0x7000 + 110 + count, 0x7000 + 88 + count, 0x7000 + 11 + count, count + 1]
    assert len(packet) == 126 + count


# E1.31-2018, Table 4-2.
SYNC_TABLE = [
    ("root flags and length", 16, 2, 0x7021),
    ("root vector", 18, 4, 0x00000008),
    ("framing flags and length", 38, 2, 0x700B),
    ("framing vector", 40, 4, 0x00000001),
    ("sequence number", 44, 1, 111),
    ("synchronization address", 45, 2, 7962),
    ("reserved", 47, 2, 0),
]


@pytest.mark.parametrize(("field", "octet", "size", "value"), SYNC_TABLE)
def test_sync_packet_field(field: str, octet: int, size: int, value: int) -> None:
    packet = sync_packet(7962, cid=CID.bytes, sequence=111)
    assert int.from_bytes(packet[octet : octet + size], "big") == value, field
    assert (len(packet), packet[:16], packet[22:38]) == (49, ROOT, CID.bytes)


# E1.31-2018, Table 4-3, with universes 1, 2, 3: 120 octets and two for each universe.
DISCOVERY_TABLE = [
    ("root flags and length", 16, 2, 0x706E),
    ("root vector", 18, 4, 0x00000008),
    ("framing flags and length", 38, 2, 0x7058),
    ("framing vector", 40, 4, 0x00000002),
    ("reserved", 108, 4, 0),
    ("list flags and length", 112, 2, 0x700E),
    ("list vector", 114, 4, 0x00000001),
    ("page", 118, 1, 0),
    ("last page", 119, 1, 0),
    ("first universe", 120, 2, 1),
    ("last universe", 124, 2, 3),
]


@pytest.mark.parametrize(("field", "octet", "size", "value"), DISCOVERY_TABLE)
def test_discovery_packet_field(field: str, octet: int, size: int, value: int) -> None:
    (packet,) = discovery_packets([3, 1, 2], cid=CID.bytes, source_name="Source_A")
    assert int.from_bytes(packet[octet : octet + size], "big") == value, field
    assert (len(packet), packet[:16], packet[22:38]) == (126, ROOT, CID.bytes)
    assert packet[44:108] == b"Source_A" + bytes(56)


def test_a_full_page_of_discovery() -> None:
    # 8.5: at most 512 universes on a page. 1144 octets, lengths 0x7468, 0x7452, 0x7408, by the rules of 5.4, 6.1, 8.1.
    first, second = discovery_packets(range(1, 514), cid=CID.bytes, source_name="x")
    assert (len(first), len(second)) == (1144, 122)
    assert [first[at : at + 2].hex() for at in (16, 38, 112)] == ["7468", "7452", "7408"]
    assert (first[118:120], second[118:120]) == (b"\0\1", b"\1\1")
    assert struct.unpack(">512H", first[120:]) == tuple(range(1, 513))


def test_an_empty_list_of_universes() -> None:
    (packet,) = discovery_packets([], cid=CID.bytes, source_name="x")
    assert (len(packet), packet[38:40].hex()) == (120, "7052")  # Table 4-3: at least 120; 82 from octet 38 on


@pytest.mark.parametrize(
    ("universe", "group"),
    [(1, "239.255.0.1"), (512, "239.255.2.0"), (63999, "239.255.249.255"), (64214, "239.255.250.214")],
)
def test_multicast_groups(universe: int, group: str) -> None:
    # E1.31-2018, 9.3.1, Table 9-10; 64214 is the universe of discovery (Appendix A).
    assert group_address(universe) == group


@pytest.mark.parametrize(
    ("last", "sequence", "used"),
    [
        (255, 0, True),  # wraps
        (10, 5, False),  # -5
        (10, 246, True),  # -20: just far enough back to be a new start
        (5, 250, False),  # -11 as a signed 8-bit number; a plain difference of +245 would let it pass
        (0, 237, False),  # -19, likewise
        (7, 7, False),  # the same again
    ],
)
def test_sequence_rule(last: int, sequence: int, used: bool) -> None:
    # E1.31-2018, 6.7.2; that the difference is a signed 8-bit number is from memory.
    assert is_newer(sequence, last) is used


def test_source_names_are_cut_between_letters() -> None:
    # 6.2.2: 64 octets of UTF-8 with a NUL at the end. 'ä' takes two octets (RFC 3629).
    assert source_name_field("ä" * 40) == ("ä" * 31).encode() + bytes(2)
    assert source_name_field("x" * 63)[-1] == 0


def test_options_are_bits() -> None:
    # 6.2.6: bit 7 preview, bit 6 stream terminated, bit 5 force synchronisation.
    packet = read_packet(data_packet(1, b"\1", cid=CID.bytes, source_name="x", options=0x40))
    assert isinstance(packet, DataPacket)
    assert packet.terminated


@given(st.binary(max_size=1200))
def test_anything_may_arrive(octets: bytes) -> None:
    read_packet(octets)
    read_packet(ROOT + octets)


@given(at=st.integers(0, 637), value=st.integers(0, 255), cut=st.integers(0, 638))
def test_damaged_packets_are_read_whole_or_not_at_all(at: int, value: int, cut: int) -> None:
    octets = bytearray(appendix_b())
    octets[at] = value
    packet = read_packet(bytes(octets))
    assert packet is None or (isinstance(packet, DataPacket) and len(packet.slots) == 512)
    if cut < 638:
        assert read_packet(appendix_b()[:cut]) is None


def test_names_from_strangers_cannot_command_a_terminal() -> None:
    packet = read_packet(data_packet(1, b"\0", cid=CID.bytes, source_name="\x1b[2Jhello"))
    assert isinstance(packet, DataPacket)
    assert packet.source_name == " [2Jhello"


def test_length_field_has_flags_seven() -> None:
    assert flags_and_length(638 - 16) == 0x726E  # ANSI E1.17: flags 0x7 in the high four bits


def test_ranges() -> None:
    assert list(ranges("1-3, 7")) == [1, 2, 3, 7]
    for wrong in ("", "a", "0", "64000", "3-1", "1-", "-3"):
        with pytest.raises(ValueError, match=r"is neither a universe|is not in 1 to"):
            list(ranges(wrong))
