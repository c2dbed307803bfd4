"""The three packets of ANSI E1.31-2018, octet by octet, written and read; the 2025 edition was not read.

Every length is computed by the rule of its clause (5.4, 6.1, 7.1, 8.1): the standard's printed example contradicts
them. All numbers are big-endian (4.1).
"""

from __future__ import annotations

import struct
import uuid
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

PORT = 5568
"""ACN_SDT_MULTICAST_PORT (Appendix A)."""
SLOTS = 512
LAST_UNIVERSE = 63999
MOST_RUNS = 12
"""Runs of universes that are told one by one."""
DISCOVERY_UNIVERSE = 64214
"""E131_DISCOVERY_UNIVERSE (Appendix A)."""

PREAMBLE = struct.pack(">HH12s", 0x0010, 0x0000, b"ASC-E1.17")
"""Sizes of pre- and post-amble, ACN packet identifier (5.1 to 5.3)."""
ROOT_DATA, ROOT_EXTENDED = 4, 8
FRAMING_DATA, EXTENDED_SYNC, EXTENDED_DISCOVERY = 2, 1, 2
UNIVERSE_LIST = 1
SET_PROPERTY, ADDRESS_AND_DATA = 0x02, 0xA1

PREVIEW, TERMINATED, FORCE_SYNC = 0x80, 0x40, 0x20
"""Options (6.2.6)."""

SEQUENCE_AT, OPTIONS_AT, START_CODE_AT, SLOTS_AT = 111, 112, 125, 126
SYNC_SEQUENCE_AT = 44
DATA_OCTETS = SLOTS_AT + SLOTS
SYNC_OCTETS = 49
DISCOVERY_PAGE = 512
"""Universes on one page of the list (8.5)."""
LONGEST = 1144
"""Octets of the longest packet: a full page of universe discovery."""


def flags_and_length(octets: int) -> int:
    """Flags 0x7 and the octets of a layer from its own length field on, as one 16-bit number (ANSI E1.17, 2.4)."""
    return 0x7000 | octets


def group_address(universe: int) -> str:
    """The IPv4 multicast group of a universe, ``239.255.high.low`` (9.3.1)."""
    return f"239.255.{universe >> 8}.{universe & 255}"


def source_name_field(name: str) -> bytes:
    """``name`` as 64 octets of UTF-8, ended by at least one NUL (6.2.2); cut between letters where it is longer."""
    cut = name.encode()[:63].decode(errors="ignore").encode()
    return cut.ljust(64, b"\0")


def data_packet(
    universe: int,
    slots: bytes,
    *,
    cid: bytes,
    source_name: str,
    priority: int = 100,
    sequence: int = 0,
    sync_address: int = 0,
    options: int = 0,
) -> bytes:
    """An E1.31 data packet (Table 4-1) of 126 octets and one for each of 1 to 512 ``slots``.

    ``universe`` 1..63999, ``priority`` 0..200, ``sequence`` 0..255, ``sync_address`` 0 (not synchronised) to 63999,
    ``cid`` 16 octets (RFC 4122).
    """
    total = SLOTS_AT + len(slots)
    return b"".join((
        PREAMBLE,
        struct.pack(">HI16s", flags_and_length(total - 16), ROOT_DATA, cid),
        struct.pack(">HI", flags_and_length(total - 38), FRAMING_DATA),
        source_name_field(source_name),
        struct.pack(">BHBBH", priority, sync_address, sequence, options, universe),
        struct.pack(">HBB", flags_and_length(total - 115), SET_PROPERTY, ADDRESS_AND_DATA),
        struct.pack(">HHHB", 0, 1, len(slots) + 1, 0),
        slots,
    ))  # fmt: skip


def sync_packet(sync_address: int, *, cid: bytes, sequence: int = 0) -> bytes:
    """An E1.31 synchronisation packet (Table 4-2), 49 octets, for ``sync_address`` 1..63999."""
    return PREAMBLE + struct.pack(
        ">HI16sHIBHH", flags_and_length(SYNC_OCTETS - 16), ROOT_EXTENDED, cid,
        flags_and_length(SYNC_OCTETS - 38), EXTENDED_SYNC, sequence, sync_address, 0,
    )  # fmt: skip


def discovery_packets(universes: Sequence[int], *, cid: bytes, source_name: str) -> list[bytes]:
    """Universe discovery packets (Table 4-3) that list ``universes``, in order, 512 to a page (8.3 to 8.5)."""
    ordered = sorted(universes)
    pages = [ordered[first : first + DISCOVERY_PAGE] for first in range(0, len(ordered), DISCOVERY_PAGE)] or [[]]
    return [_discovery_page(page, n, len(pages) - 1, cid, source_name) for n, page in enumerate(pages)]


def _discovery_page(universes: Sequence[int], page: int, last: int, cid: bytes, source_name: str) -> bytes:
    total = 120 + 2 * len(universes)
    return b"".join((
        PREAMBLE,
        struct.pack(">HI16s", flags_and_length(total - 16), ROOT_EXTENDED, cid),
        struct.pack(">HI", flags_and_length(total - 38), EXTENDED_DISCOVERY),
        source_name_field(source_name),
        struct.pack(">IHIBB", 0, flags_and_length(total - 112), UNIVERSE_LIST, page, last),
        struct.pack(f">{len(universes)}H", *universes),
    ))  # fmt: skip


@dataclass(frozen=True)
class DataPacket:
    """What a data packet says."""

    cid: uuid.UUID
    source_name: str
    priority: int
    sync_address: int
    sequence: int
    options: int
    universe: int
    start_code: int
    slots: bytes

    @property
    def terminated(self) -> bool:
        """Whether the source says that this stream ends."""
        return bool(self.options & TERMINATED)


@dataclass(frozen=True)
class SyncPacket:
    """What a synchronisation packet says."""

    cid: uuid.UUID
    sequence: int
    sync_address: int


@dataclass(frozen=True)
class DiscoveryPacket:
    """What one page of universe discovery says."""

    cid: uuid.UUID
    source_name: str
    page: int
    last_page: int
    universes: tuple[int, ...]


def read_packet(octets: bytes) -> DataPacket | SyncPacket | DiscoveryPacket | None:
    """The packet in ``octets``; None for anything that is not a well-formed one of the three.

    Lengths are checked against what arrived: a stranger on the network can send anything.
    """
    if len(octets) < SYNC_OCTETS or not octets.startswith(PREAMBLE):
        return None
    length, vector, cid = struct.unpack_from(">HI16s", octets, 16)
    framing_length, kind = struct.unpack_from(">HI", octets, 38)
    total = len(octets)
    if length != flags_and_length(total - 16) or framing_length != flags_and_length(total - 38):
        return None
    if vector == ROOT_DATA and kind == FRAMING_DATA:
        return _read_data(octets, uuid.UUID(bytes=cid))
    if vector == ROOT_EXTENDED and kind == EXTENDED_SYNC and total == SYNC_OCTETS:
        sequence, address = struct.unpack_from(">BH", octets, 44)
        return SyncPacket(uuid.UUID(bytes=cid), sequence, address)
    if vector == ROOT_EXTENDED and kind == EXTENDED_DISCOVERY:
        return _read_discovery(octets, uuid.UUID(bytes=cid))
    return None


def _read_data(octets: bytes, cid: uuid.UUID) -> DataPacket | None:
    if not SLOTS_AT < len(octets) <= DATA_OCTETS:
        return None
    length, vector, kind, first, step, count, start_code = struct.unpack_from(">HBBHHHB", octets, 115)
    slots = octets[SLOTS_AT:]
    if (length, vector, kind) != (flags_and_length(len(octets) - 115), SET_PROPERTY, ADDRESS_AND_DATA):
        return None
    if (first, step, count) != (0, 1, len(slots) + 1):
        return None
    priority, sync, sequence, options, universe = struct.unpack_from(">BHBBH", octets, 108)
    if not 1 <= universe <= LAST_UNIVERSE:
        return None
    return DataPacket(cid, _name(octets), priority, sync, sequence, options, universe, start_code, slots)


def _read_discovery(octets: bytes, cid: uuid.UUID) -> DiscoveryPacket | None:
    if not 120 <= len(octets) <= LONGEST or len(octets) % 2:
        return None
    length, vector, page, last = struct.unpack_from(">HIBB", octets, 112)
    if (length, vector) != (flags_and_length(len(octets) - 112), UNIVERSE_LIST):
        return None
    universes = struct.unpack_from(f">{(len(octets) - 120) // 2}H", octets, 120)
    return DiscoveryPacket(cid, _name(octets), page, last, universes)


def _name(octets: bytes) -> str:
    """The source name, without what would command a terminal."""
    text = octets[44:108].split(b"\0", 1)[0].decode(errors="replace")
    return "".join(letter if letter.isprintable() else " " for letter in text)


def is_newer(sequence: int, last: int) -> bool:
    """Whether a packet is to be used after one numbered ``last``: discard when -20 < sequence - last <= 0 (6.7.2).

    The difference is taken as a signed 8-bit number, so that 0 follows 255.
    """
    difference = (sequence - last + 128) % 256 - 128
    return not -20 < difference <= 0


def ranges(text: str) -> Iterator[int]:
    """The universes in ``1-3,7``, in order. Raises ValueError where it is not that, or beyond 1..63999."""
    for part in text.split(","):
        first, dash, last = part.strip().partition("-")
        if not first.isdecimal() or (dash and not last.isdecimal()):
            raise ValueError(f"'{part.strip()}' is neither a universe nor a range of them")
        start, stop = int(first), int(last or first)
        if not 1 <= start <= stop <= LAST_UNIVERSE:
            raise ValueError(f"'{part.strip()}' is not in 1 to {LAST_UNIVERSE}, first number first")
        yield from range(start, stop + 1)


def universes_told(numbers: Sequence[int]) -> str:
    """``universe 1``, or ``universes 1 to 4, 9``, of ascending ``numbers``; a long list is cut short."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1][1:] = [number]
        else:
            runs.append([number])
    told = ", ".join(" to ".join(map(str, run)) for run in runs[:MOST_RUNS])
    return f"universe{'s' * (len(numbers) > 1)} {told}" + (" and more" if len(runs) > MOST_RUNS else "")
