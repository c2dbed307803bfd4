"""Fletcher-32 against the one HDF5's own filter stores behind a chunk."""

import h5py
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavesong.kernels.checksum import fletcher32


def stored_by_hdf5(data):
    """What HDF5 puts behind ``data`` when it writes it as one chunk (H5Zfletcher32.c: 4 bytes, little endian)."""
    with h5py.File("memory", "w", driver="core", backing_store=False) as file:
        dataset = file.create_dataset("d", data=data, chunks=data.shape, fletcher32=True)
        _, chunk = dataset.id.read_direct_chunk((0,))
    assert chunk[:-4] == data.tobytes()
    return int.from_bytes(chunk[-4:], "little")


@settings(max_examples=50, deadline=None)
@given(st.binary(min_size=1, max_size=3000))
def test_any_bytes_have_the_checksum_hdf5_gives_them(data):
    data = np.frombuffer(data, np.uint8)
    assert fletcher32(data) == stored_by_hdf5(data)


@pytest.mark.parametrize("size", [1, 2, 511, 512, 513, 719, 720, 721, 1 << 16, 300_001])
@pytest.mark.parametrize("value", [0, 1, 255])
def test_equal_bytes_have_it_around_the_borders_of_blocks(size, value):
    """Sums of 255s are 0 modulo 65535, which HDF5 writes as 65535; only nothing but zeros gives 0."""
    data = np.full(size, value, np.uint8)
    assert fletcher32(data) == stored_by_hdf5(data)


def test_a_long_random_chunk_has_it_wherever_it_lies_in_memory():
    data = np.random.default_rng(1).integers(0, 256, 1_000_003, np.uint8)
    assert fletcher32(data) == stored_by_hdf5(data)
    assert fletcher32(data[1:]) == stored_by_hdf5(data[1:])


def test_bytes_that_may_not_be_written_to_are_read_all_the_same():
    data = np.frombuffer(b"abcdefgh", np.uint8)
    # The worked example for "abcdefgh" in big-endian words: 6162 + 6364 + 6566 + 6768, added up by hand.
    words = [0x6162, 0x6364, 0x6566, 0x6768]
    plain = sum(words) % 65535
    running = sum(sum(words[: i + 1]) for i in range(4)) % 65535
    assert fletcher32(data) == running << 16 | plain
