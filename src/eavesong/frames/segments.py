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

SEGMENT = 16 << 10
"""Bytes between flushes: half of what DEFLATE can look back (RFC 1951, 2)."""

MARK = b"\x00\x00\xff\xff"
"""Length and inverted length of an empty stored block. It cannot overlap itself, so every one that ends a segment is
found; one that stands inside a segment by chance makes one too many."""

LEVEL = 1
"""Of isal's, see ``encode``: the best on frames that are wider than DEFLATE looks back."""

PROBE = 6
"""Segments that are compressed in one piece too, to see what the flushes cost."""

LOSS = 1.05
"""How much larger a stream may become by the flushes."""

ADLER = 65521
"""RFC 1950, 9: the largest prime below 65536."""

HEADER = 2
"""Bytes of the container's header (RFC 1950, 2.2)."""

RAW = -15
"""zlib's ``wbits`` for a DEFLATE stream without a container."""

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


def touched(changed: NDArray[np.bool_]) -> list[int]:
    """The segments in which any of the bytes (n,) has ``changed``."""
    return np.unique(np.flatnonzero(changed) // SEGMENT).tolist()  # type: ignore[no-any-return]


def spliced(data: bytes, fresh: Bytes, changed: NDArray[np.bool_], segments: Sequence[int]) -> bytearray | None:
    """``data`` of a chunk that holds n bytes, with those that have ``changed`` (n,) taken from ``fresh`` (n,).

    data: a zlib stream, and a chunk's checksum behind it; what comes back has room for one there.
    segments: those that ``touched`` names; only they are taken apart. None where the stream is not in segments, or so
    many are touched that it is better made anew. The checksum (Adler-32) is carried over, so that damage in what is
    copied stays visible.
    """
    from isal import isal_zlib

    count = -(-fresh.size // SEGMENT)
    pieces = data.split(MARK)
    # Behind the last segment stand an empty last block, maybe a stored one, which ends on a mark too, and Adler-32.
    end = len(pieces[-1]) - CHECKSUM_BYTES
    fits = (len(pieces) == count + 1 and end >= 4) or (len(pieces) == count + 2 and end == 4)
    if not fits or len(segments) > MOST_CHANGED * count + 1:
        return None
    running, plain = struct.unpack(">HH", pieces[-1][end - 4 : end])
    compressor = isal_zlib.compressobj(LEVEL, isal_zlib.DEFLATED, RAW)
    for number in segments:
        part = slice(number * SEGMENT, min((number + 1) * SEGMENT, fresh.size))
        old = _inflated(pieces[number][0 if number else HEADER :] + MARK, part.stop - part.start)
        if old is None:
            return None
        new = np.frombuffer(bytearray(old), np.uint8)
        np.copyto(new, fresh[part], where=changed[part])
        made = compressor.compress(new) + compressor.flush(isal_zlib.Z_FULL_FLUSH)
        pieces[number] = (b"" if number else data[:HEADER]) + made[: -len(MARK)]
        # Adler-32 (RFC 1950, 8) adds up all bytes, and all sums on the way; begun at 0, so does a part of them.
        was, now = isal_zlib.adler32(old, 0), isal_zlib.adler32(new, 0)
        more = (now & 0xFFFF) - (was & 0xFFFF)
        plain += more
        running += (now >> 16) - (was >> 16) + more * (fresh.size - part.stop)
    pieces[-1] = pieces[-1][: end - 4] + struct.pack(">HH", running % ADLER, plain % ADLER) + bytes(CHECKSUM_BYTES)
    return bytearray(MARK).join(pieces)


def _inflated(segment: bytes, size: int) -> bytes | None:
    from isal import isal_zlib

    damaged: type[Exception] = getattr(isal_zlib, "error", ValueError)  # its stub calls the class an instance
    try:
        held = isal_zlib.decompressobj(RAW).decompress(segment, size + 1)
    except (EOFError, ValueError, damaged):
        return None
    return held if len(held) == size else None
