"""Fletcher-32 as HDF5 computes it, fast enough not to be noticed beside compression."""

from __future__ import annotations

import numpy as np

from eavesong.kernels.store import kernel

BLOCK = 256
"""16-bit words added up before a reduction: 65535 · (1 + 2 + … + 255) still fits into 32 bits."""


def sums(data, begins, sizes, found):
    """The checksum of each piece of ``data``, ``sizes`` bytes from ``begins`` on, into ``found``."""
    block, one, most, exchange = np.uint64(BLOCK), np.uint64(1), np.uint64(65535), np.uint64(256)
    for piece in range(begins.size):
        at = np.uint64(begins[piece])
        end = at + np.uint64(sizes[piece])
        plain = np.uint64(0)
        running = np.uint64(0)
        while at + np.uint64(2) * block <= end:
            # Inside a block word i takes part in BLOCK - i intermediate sums. Adding i times each word and taking it
            # off afterwards needs no sum that waits for the one before it, so the loop fills vector registers; counted
            # without a sign, since numba looks for indices below 0 otherwise.
            added = np.uint32(0)
            weighted = np.uint32(0)
            for i in range(np.uint64(0), block):
                low, high = data[at + np.uint64(2) * i], data[at + np.uint64(2) * i + one]
                word = np.uint32(high) << np.uint32(8) | np.uint32(low)  # as it lies in memory: one load
                added += word
                weighted += word * np.uint32(i)
            at += np.uint64(2) * block
            running += block * (plain + np.uint64(added)) - np.uint64(weighted)
            plain += np.uint64(added)
            # 65536 is 1 modulo 65535: what lies above 16 bits is added to them.
            running = (running >> np.uint64(16)) + (running & most)
            plain = (plain >> np.uint64(16)) + (plain & most)
        while at < end:
            plain += np.uint64(data[at])
            if at + one < end:
                plain += np.uint64(data[at + one]) << np.uint64(8)
            running += plain
            at += np.uint64(2)
        if plain:  # 65535 stands for 0 unless every byte is 0
            # Modulo 65535 a word times 256 is that word with its two bytes exchanged.
            plain = (plain * exchange - one) % most + one
            running = (running * exchange - one) % most + one
        found[piece] = running << np.uint64(16) | plain


@kernel("uint8[1]", "int64[1]", "int64[1]", "uint32[1]")
def _sums():
    """See ``sums``."""
    return sums


def fletcher32(data: np.ndarray) -> int:
    """The checksum HDF5 stores behind a chunk, as an unsigned 32-bit number; it is stored little endian.

    ``data``: uint8 (n,), contiguous. The bytes are taken as big-endian 16-bit words, an odd last byte as the high
    half of one more; low half of the result: their sum, high half: the sum of the intermediate sums, each modulo
    65535 with 65535 standing for 0 unless every byte is 0. Source: H5_checksum_fletcher32 in HDF5's H5checksum.c
    (after J. G. Fletcher, IEEE Transactions on Communications 30, 1982). Holds no lock while it adds.
    """
    found = np.empty(1, np.uint32)
    _sums(data, np.zeros(1, np.int64), np.array([data.size]), found)
    return int(found[0])


def fletcher32_of(data: np.ndarray, begins: np.ndarray, sizes: np.ndarray) -> np.ndarray:
    """``fletcher32`` of several pieces of ``data``, ``sizes`` bytes from ``begins`` on, int64 (n,): uint32 (n,)."""
    found = np.empty(len(begins), np.uint32)
    if len(begins) and not 0 <= begins.min() <= (begins + sizes).max() <= data.size:
        raise ValueError(f"pieces that do not lie in {data.size} bytes")
    _sums(data, begins, sizes, found)
    return found
