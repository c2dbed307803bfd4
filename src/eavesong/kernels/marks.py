"""Where the segments of a zlib stream end, found faster than the stream is read from a disk."""

from __future__ import annotations

import numpy as np

from eavesong.kernels.store import kernel

BLOCK = 128
"""Bytes looked at together. A loop whose length is known is unrolled into vectors, and one minimum told for all."""


def marks(data, found):
    """The places of the bytes 00 00 FF FF in ``data`` (n,) into ``found`` (m,), as many as fit, and -1 behind."""
    count = np.uint64(0)
    places = max(data.size - 3, 0)
    for start in range(0, places, BLOCK):
        if start + BLOCK <= places:
            nearest = np.uint8(255)
            for i in range(np.uint64(start), np.uint64(start + BLOCK)):
                zeros = np.uint8(data[i] | data[i + np.uint64(1)])
                ones = np.uint8(data[i + np.uint64(2)] & data[i + np.uint64(3)])
                nearest = min(nearest, np.uint8(zeros | np.uint8(~ones)))
            if nearest:
                continue
        for i in range(np.uint64(start), np.uint64(min(start + BLOCK, places))):
            zeros = data[i] == 0 and data[i + np.uint64(1)] == 0
            if zeros and data[i + np.uint64(2)] == 255 and data[i + np.uint64(3)] == 255:
                if count < found.size:
                    found[count] = i
                count += np.uint64(1)
    if count < found.size:
        found[count] = -1


@kernel("uint8[1]", "int64[1]")
def _marks():
    """See ``marks``."""
    return marks


def where_marked(data: bytes, most: int) -> list[int] | None:
    """Where the bytes 00 00 FF FF stand in ``data``, in order; None where they do more than ``most`` times.

    It is what an empty stored block of DEFLATE ends on (RFC 1951, 3.2.4). Holds no lock while it looks.
    """
    found = np.empty(most + 1, np.int64)
    _marks(np.frombuffer(data, np.uint8), found)
    ends = np.flatnonzero(found < 0)
    return found[: ends[0]].tolist() if ends.size else None
