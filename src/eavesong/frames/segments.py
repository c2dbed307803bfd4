"""Zlib streams in segments that can be exchanged: what has changed is compressed anew, the rest copied as it is.

After every SEGMENT bytes the compressor forgets what came before and ends on a whole byte, with the empty stored
block that zlib's Z_FULL_FLUSH writes (RFC 1951, 3.2.4). Any reader of zlib streams reads them.
"""

from __future__ import annotations

import struct
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from eavesong.frames.format import CHECKSUM_BYTES

Bytes = NDArray[np.uint8]

Touched = tuple[int, list[slice]]
"""The number of a segment, and stretches of bytes in it."""

SEGMENT = 16 << 10
"""Bytes between flushes: half of what DEFLATE can look back (RFC 1951, 2)."""

MARK = b"\x00\x00\xff\xff"
"""Length and inverted length of an empty stored block. It cannot overlap itself, so every one that ends a segment is
found; one that stands inside a segment by chance makes one too many."""

LEVEL, QUICK = 1, 0
"""Of isal's, see ``encode``: the best on frames that are wider than DEFLATE looks back; what is compressed anew takes
little room, so it is done in two thirds of the time and a quarter more bytes."""

PROBE = 6
"""Segments that are compressed in one piece too, to see what the flushes cost."""

LOSS = 1.12
"""How much larger a stream may become by the flushes."""

ADLER = 65521
"""RFC 1950, 9: the largest prime below 65536."""

HEADER = 2
"""Bytes of the container's header (RFC 1950, 2.2)."""

RAW = -15
"""zlib's ``wbits`` for a DEFLATE stream without a container; ZLIB for one in zlib's own (RFC 1950)."""
ZLIB = 15

MOST_CHANGED = 0.5
"""Share of a stream's segments above which it is quicker to make it anew."""


def segmented(raw: Bytes) -> bytearray | None:
    """``raw`` (n,) as a zlib stream in segments; None where that costs too much, see LOSS."""
    from isal import isal_zlib

    stream = isal_zlib.compressobj(LEVEL)
    out = bytearray()
    for number, start in enumerate(range(0, raw.size, SEGMENT), start=1):
        out += stream.compress(raw[start : start + SEGMENT])
        out += stream.flush(isal_zlib.Z_FULL_FLUSH)
        if number == PROBE and len(out) > LOSS * len(isal_zlib.compress(raw[: PROBE * SEGMENT], LEVEL)) + 64 * PROBE:
            return None
    out += stream.flush()
    return out


def touched(changed: NDArray[np.bool_]) -> list[Touched]:
    """The segments in which any of the bytes (n,) has ``changed``, with the stretches of each that have."""
    edges = np.flatnonzero(np.diff(changed, prepend=False, append=False))
    found: dict[int, list[slice]] = {}
    for start, stop in edges.reshape(-1, 2).tolist():
        for number in range(start // SEGMENT, -(-stop // SEGMENT)):
            begin = number * SEGMENT
            found.setdefault(number, []).append(slice(max(start - begin, 0), min(stop - begin, SEGMENT)))
    return list(found.items())


def spliced(data: bytes, fresh: Bytes, segments: Sequence[Touched]) -> bytearray | None:
    """``data`` of a chunk that holds n bytes, with those of ``segments``, see ``touched``, taken from ``fresh`` (n,).

    data: a zlib stream, and a chunk's checksum behind it; what comes back has room for one there. Only the touched
    segments are taken apart. None where the stream is not in segments, or so many are touched that it is better made
    anew. The checksum (Adler-32) is carried over, so that damage in what is copied stays visible.
    """
    from isal import isal_zlib

    from eavesong.kernels.marks import where_marked

    count = -(-fresh.size // SEGMENT)
    ends = where_marked(data, count + 1) or []
    last = len(data) - CHECKSUM_BYTES - 4
    # Behind the last segment stand an empty last block, maybe a stored one, which ends on a mark too, and Adler-32.
    behind = last - ends[-1] - len(MARK) if ends else -1
    fits = (len(ends) == count and behind >= 0) or (len(ends) == count + 1 and behind == 0)
    if not fits or len(segments) > MOST_CHANGED * count + 1:
        return None
    view, at, place = memoryview(data), 0, 0
    sides = [(ends[number - 1] + len(MARK) if number else HEADER, ends[number]) for number, _ in segments]
    sizes = [min(SEGMENT, fresh.size - number * SEGMENT) for number, _ in segments]
    held = inflated(b"".join(view[begin : end + len(MARK)] for begin, end in sides), sum(sizes))
    if held is None:
        return None
    running, plain = struct.unpack(">HH", data[last : last + 4])
    compressor = isal_zlib.compressobj(QUICK, isal_zlib.DEFLATED, RAW)
    parts: list[bytes | memoryview] = []
    for (number, stretches), (begin, end), size in zip(segments, sides, sizes, strict=True):
        first, old = number * SEGMENT, held[place : place + size]
        new, place = bytearray(old), place + size
        for stretch in stretches:
            part = fresh[first + stretch.start : first + stretch.stop].data
            # Adler-32 (RFC 1950, 8) adds up all bytes, and all sums on the way; begun at 0, so does a part of them.
            was, now = isal_zlib.adler32(new[stretch], 0), isal_zlib.adler32(part, 0)
            new[stretch] = part
            more = (now & 0xFFFF) - (was & 0xFFFF)
            plain += more
            running += (now >> 16) - (was >> 16) + more * (fresh.size - first - stretch.stop)
        if new != old:
            made = compressor.compress(new) + compressor.flush(isal_zlib.Z_FULL_FLUSH)
            parts += [view[at:begin], made[: -len(MARK)]]
            at = end
    if not parts:
        return bytearray(data)
    parts += [view[at:last], struct.pack(">HH", running % ADLER, plain % ADLER), bytes(CHECKSUM_BYTES)]
    return bytearray().join(parts)


def inflated(stream: bytes | memoryview, size: int, container: int = RAW) -> bytes | None:
    """The ``size`` bytes that a stream holds, without any container or in zlib's; None where it holds something else.

    No lock is held meanwhile, unlike where HDF5 unpacks.
    """
    from isal import isal_zlib

    damaged: type[Exception] = getattr(isal_zlib, "error", ValueError)  # its stub calls the class an instance
    try:
        held = isal_zlib.decompressobj(container).decompress(stream, size + 1)
    except (EOFError, ValueError, damaged):
        return None
    return held if len(held) == size else None
