"""Zlib streams in segments that can be exchanged: what has changed is compressed anew, the rest copied as it is.

After every SEGMENT bytes the compressor forgets what came before and ends on a whole byte, with the empty stored
block that zlib's Z_FULL_FLUSH writes (RFC 1951, 3.2.4). Any reader of zlib streams reads them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]

SEGMENT = 16 << 10
"""Bytes between flushes: half of what DEFLATE can look back (RFC 1951, 2)."""

MARK = b"\x00\x00\xff\xff"
"""Length and inverted length of an empty stored block."""

PROBE = 6
"""Segments that are compressed in one piece too, to see what the flushes cost."""

LOSS = 1.05
"""How much larger a stream may become by the flushes."""

ADLER = 65521
"""RFC 1950, 9: the largest prime below 65536."""

RAW = -15
"""zlib's ``wbits`` for a DEFLATE stream without a container."""

MOST_CHANGED = 0.5
"""Share of a stream's segments above which it is quicker to make it anew."""


def segmented(raw: Bytes, level: int) -> bytearray | None:
    """``raw`` (n,) as a zlib stream in segments; None where that costs too much, see LOSS."""
    from isal import isal_zlib

    stream = isal_zlib.compressobj(level)
    out = bytearray()
    for number, start in enumerate(range(0, raw.size, SEGMENT), start=1):
        out += stream.compress(raw[start : start + SEGMENT])
        out += stream.flush(isal_zlib.Z_FULL_FLUSH)
        if number == PROBE and len(out) > LOSS * len(isal_zlib.compress(raw[: PROBE * SEGMENT], level)) + 64 * PROBE:
            return None
    out += stream.flush()
    return out


def spliced(stream: bytes, size: int, changes: Sequence[tuple[int, Bytes]], level: int) -> bytearray | None:
    """``stream``, a zlib stream of ``size`` bytes, with bytes changed: (place in what it holds, new bytes).

    Only the segments that the changes touch are taken apart. None where the stream is not in segments, or so many
    are touched that it is better made anew. The checksum (Adler-32) is carried over, so that damage in what is
    copied stays visible.
    """
    from isal import isal_zlib

    count = -(-size // SEGMENT)
    edges = _edges(stream, count)
    touched = sorted({part for at, new in changes for part in range(at // SEGMENT, (at + len(new) - 1) // SEGMENT + 1)})
    if edges is None or len(touched) > MOST_CHANGED * count + 1:
        return None
    fresh = isal_zlib.compressobj(level, isal_zlib.DEFLATED, RAW)
    held, copied = memoryview(stream), 0
    parts: list[memoryview | bytes] = []
    exchanged: list[tuple[int, Bytes, Bytes]] = []
    for part in touched:
        begin, end = edges[part], edges[part + 1]
        start = part * SEGMENT
        old = _inflated(held[begin:end], min(SEGMENT, size - start))
        if old is None:
            return None
        new = old.copy()
        for low, piece in _within(changes, start, len(new)):
            new[low : low + len(piece)] = piece
            exchanged.append((start + low, old[low : low + len(piece)], piece))
        parts += [held[copied:begin], fresh.compress(new), fresh.flush(isal_zlib.Z_FULL_FLUSH)]
        copied = end
    adler = _carried(int.from_bytes(stream[-4:], "big"), size, exchanged)
    return bytearray().join([*parts, held[copied:-4], adler.to_bytes(4, "big")])


def _edges(stream: bytes, count: int) -> list[int] | None:
    """Where each segment begins, and the last one ends; None where the marks are not as many as there should be."""
    edges, at = [2], 2  # behind the container's header
    while (found := stream.find(MARK, at)) >= 0:
        at = found + len(MARK)
        edges.append(at)
    # What follows the last segment is an empty last block, which may be a stored one too.
    if len(edges) == count + 2 and edges[-1] == len(stream) - 4:
        edges.pop()
    return edges if len(edges) == count + 1 and len(stream) - edges[-1] <= 9 else None


def _inflated(part: memoryview, size: int) -> Bytes | None:
    from isal import isal_zlib

    damaged: type[Exception] = getattr(isal_zlib, "error", ValueError)  # its stub calls the class an instance
    try:
        held = isal_zlib.decompressobj(RAW).decompress(part)
    except (EOFError, ValueError, damaged):
        return None
    return np.frombuffer(held, np.uint8) if len(held) == size else None


def _within(changes: Sequence[tuple[int, Bytes]], start: int, size: int) -> Iterator[tuple[int, Bytes]]:
    """The parts of the changes that lie in a segment, with their places in it."""
    for at, new in changes:
        low, high = max(at, start), min(at + len(new), start + size)
        if low < high:
            yield low - start, new[low - at : high - at]


def _carried(adler: int, size: int, exchanged: Sequence[tuple[int, Bytes, Bytes]]) -> int:
    """The Adler-32 (RFC 1950, 8) of ``size`` bytes after some were exchanged: (place, old bytes, new bytes) each."""
    if not exchanged:
        return adler
    old, new = (np.concatenate([each[which] for each in exchanged]).astype(np.int64) for which in (1, 2))
    left = np.concatenate([np.arange(size - at, size - at - len(new), -1) for at, _, new in exchanged])
    plain = ((adler & 0xFFFF) + int((new - old).sum())) % ADLER
    running = ((adler >> 16) + int(((new - old) * left).sum())) % ADLER
    return running << 16 | plain
