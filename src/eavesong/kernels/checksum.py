"""Fletcher-32 as HDF5 computes it, fast enough not to be noticed beside compression."""

from __future__ import annotations

import numpy as np

from eavesong.kernels.store import kernel

BLOCK = 256
"""16-bit words added up before a reduction: 65535 · (1 + 2 + … + 255) still fits into 32 bits."""


def sums(words, found):
    """Both sums of ``words`` modulo 65535 into ``found``: the plain one, and the one of all its intermediate values."""
    plain = np.uint64(0)
    running = np.uint64(0)
    whole = words.size // BLOCK * BLOCK
    for start in range(0, whole, BLOCK):
        # Inside a block word i takes part in BLOCK - i intermediate sums. Adding i times each word and taking it
        # off afterwards needs no sum that waits for the one before it, so the loop fills vector registers; counted
        # without a sign, since numba looks for indices below 0 otherwise.
        added = np.uint32(0)
        weighted = np.uint32(0)
        for i in range(np.uint64(start), np.uint64(start + BLOCK)):
            word = np.uint32(words[i])
            added += word
            weighted += word * (np.uint32(i) % np.uint32(BLOCK))
        running += np.uint64(BLOCK) * (plain + np.uint64(added)) - np.uint64(weighted)
        plain += np.uint64(added)
        # 65536 is 1 modulo 65535: what lies above 16 bits is added to them.
        running = (running >> np.uint64(16)) + (running & np.uint64(65535))
        plain = (plain >> np.uint64(16)) + (plain & np.uint64(65535))
    for i in range(whole, words.size):
        plain += np.uint64(words[i])
        running += plain
    found[0], found[1] = plain % np.uint64(65535), running % np.uint64(65535)


@kernel("uint16[1]", "uint64[1]")
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
    even = data[: data.size & ~1]
    if even.ctypes.data & 1:
        even = even.copy()
    found = np.empty(2, np.uint64)
    _sums(even.view(np.uint16), found)
    plain, running = (int(value) for value in found)
    # Swapping the halves of a word multiplies it by 256 modulo 65535, so one multiplication does it for the sum.
    plain, running = plain * 256 % 65535, running * 256 % 65535
    if data.size & 1:
        plain = (plain + (int(data[-1]) << 8)) % 65535
        running = (running + plain) % 65535
    if not (plain and running) and data.any():
        plain, running = plain or 65535, running or 65535
    return int(running) << 16 | int(plain)
