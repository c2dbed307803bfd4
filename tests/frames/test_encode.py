"""Chunks against HDF5's own filters, which undo what ``encode_frames`` and ``encode_chunk`` do."""

import io
import zlib
from dataclasses import replace

import h5py
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavesong.frames import chunk_frames_for, encode_frames
from eavesong.frames.encode import decode_chunk, encode_alike, encode_chunk
from eavesong.frames.format import TOGETHER, column_width_for


def undone_by_hdf5(chunks, shape):
    """Chunks beside each other as HDF5 reads them through its filters DEFLATE and Fletcher-32."""
    memory, width = io.BytesIO(), -(-shape[1] // len(chunks))
    with h5py.File(memory, "w") as file:
        dataset = file.create_dataset(
            "d", shape, np.uint8, chunks=(shape[0], width), compression="gzip", fletcher32=True
        )
        for column, chunk in enumerate(chunks):
            dataset.id.write_direct_chunk((0, column * width), chunk.data, chunk.filter_mask)
    # HDF5 2.0.0 heeds the filter mask of such a chunk only once the file has been opened anew.
    with h5py.File(memory, "r") as file:
        return file["d"][:]


def test_noise_is_stored_as_it_is_and_still_checksummed():
    noise = np.random.default_rng(0).integers(0, 256, (4, 100_000), np.uint8)
    chunk = encode_chunk(noise, noise.shape)
    assert chunk.filter_mask == 1
    assert len(chunk.data) == noise.size + 4
    np.testing.assert_array_equal(undone_by_hdf5([chunk], noise.shape), noise)


def test_a_dark_house_takes_next_to_nothing():
    chunks = encode_frames(np.zeros((16, 100_000), np.uint8), 16).chunks
    assert {chunk.filter_mask for chunk in chunks} == {0}
    assert sum(len(chunk.data) for chunk in chunks) < 4_000


def test_the_data_is_a_zlib_stream_and_four_bytes_of_checksum():
    """RFC 1950: the zlib of the standard library reads it to its end, its Adler-32 included."""
    frames = np.arange(3000, dtype=np.uint16).astype(np.uint8).reshape(3, 1000)
    (chunk,) = encode_frames(frames, 3).chunks
    stream = zlib.decompressobj()
    assert stream.decompress(bytes(chunk.data)) == frames.tobytes()
    assert stream.eof
    assert len(stream.unused_data) == 4


def test_the_last_chunk_is_filled_up_with_zeros():
    frames = np.full((2, 30), 200, np.uint8)
    encoded = encode_frames(frames, 5)
    assert encoded.frames == 2
    np.testing.assert_array_equal(undone_by_hdf5(encoded.chunks, (5, 30)), np.vstack([frames, np.zeros((3, 30))]))


def test_wide_frames_lie_in_columns_that_hdf5_puts_together():
    """The last column is filled up with zeros as the last frames are."""
    frames = np.random.default_rng(0).integers(0, 4, (3, 100_000), np.uint8)
    encoded = encode_frames(frames, 4)
    assert len(encoded.chunks) == 19
    np.testing.assert_array_equal(undone_by_hdf5(encoded.chunks, (4, 100_000))[:3], frames)


@pytest.mark.parametrize(
    ("channels", "width"), [(16_384, 16_384), (16_385, 8_193), (65_536, 16_384), (300_000, 5_455), (3, 3)]
)
def test_as_many_channels_in_every_column(channels, width):
    """DEFLATE looks back 32 KiB (RFC 1951, 2), so the frame before is within its reach."""
    assert column_width_for(channels) == width


def test_the_widest_frames_lie_in_sixty_four_columns():
    assert column_width_for(9_000_000) == 9_000_000 // 64


@settings(max_examples=40, deadline=None)
@given(
    seed=st.integers(0, 1000), channels=st.integers(1, 5000), count=st.integers(1, 40),
    share=st.floats(0, 1), steps=st.sampled_from([1, 2, 16, 64, 256]),
)  # fmt: skip
def test_hdf5_reads_back_whatever_is_encoded(seed, channels, count, share, steps):
    random = np.random.default_rng(seed)
    frames = (random.integers(0, steps, (count, channels)) * (random.random(channels) < share)).astype(np.uint8)
    (chunk,) = encode_frames(frames, count).chunks
    np.testing.assert_array_equal(undone_by_hdf5([chunk], frames.shape), frames)
    np.testing.assert_array_equal(decode_chunk(chunk, frames.shape), frames)


def test_a_chunk_that_holds_something_else_is_not_decoded():
    chunk = encode_chunk(np.zeros((4, 100), np.uint8), (4, 100))
    assert decode_chunk(chunk, (4, 101)) is None
    assert decode_chunk(chunk, (4, 99)) is None
    assert decode_chunk(replace(chunk, data=chunk.data[10:]), (4, 100)) is None
    assert decode_chunk(replace(chunk, filter_mask=1), (4, 100)) is None


def test_a_chunk_of_too_many_frames_or_of_other_numbers_is_refused():
    with pytest.raises(ValueError, match="holds 1 to 2 frames, not 3"):
        encode_frames(np.zeros((3, 3), np.uint8), 2)
    with pytest.raises(ValueError, match="uint8, not float64"):
        encode_frames(np.zeros((2, 3)), 2)


def glow():
    """A soft light on props of 50 pixels here and there in the house, each wired away from its neighbours."""
    places = np.random.default_rng(0).random(1000)[:, None] + np.arange(50) * 0.0005
    frames = range(TOGETHER)
    return np.stack([np.repeat(120 + 100 * np.sin(places.ravel() * 6 + frame / 20), 3) for frame in frames]).astype(
        np.uint8
    )


def windows():
    """Twelve windows with the same pattern of 800 pixels."""
    return np.tile(np.random.default_rng(0).integers(0, 256, 2_400, np.uint8), (TOGETHER, 12)).repeat(4, axis=1)


def still():
    """The same frame of noise again and again, 30 kB long: within reach of DEFLATE's window."""
    return np.tile(np.random.default_rng(0).integers(0, 256, 30_000, np.uint8), (12, 1))


def test_frames_that_stand_still_take_a_quarter_at_most():
    frames = still()
    chunks = encode_frames(frames, len(frames)).chunks
    assert sum(len(chunk.data) for chunk in chunks) < frames.size / 4
    np.testing.assert_array_equal(undone_by_hdf5(chunks, frames.shape), frames)


@pytest.mark.parametrize("make", [glow, windows])
def test_what_repeats_takes_no_more_than_zlib_makes_of_it_at_its_fastest(make):
    frames = make()
    chunks = encode_frames(frames, len(frames)).chunks
    assert {chunk.filter_mask for chunk in chunks} == {0}
    assert sum(len(chunk.data) for chunk in chunks) < 1.2 * len(zlib.compress(frames, 1))
    np.testing.assert_array_equal(undone_by_hdf5(chunks, frames.shape), frames)


@pytest.mark.parametrize(
    ("channels", "frames", "expected"),
    [(15_000, 2400, 69), (65_536, 99, 16), (300_000, 2400, 48), (3_000_000, 10, 5), (30, 100, 100), (1 << 24, 9, 1)],
)
def test_what_lies_together_fits_into_the_cache_hdf5_tools_have_but_for_wide_frames(channels, frames, expected):
    """As it comes, the chunk cache of HDF5 1.x holds 1 MiB (H5Pget_cache, rdcc_nbytes)."""
    assert chunk_frames_for(channels, frames) == expected


@pytest.mark.parametrize("steps", [1, 4, 40, 256])
def test_chunks_are_packed_as_those_were_that_held_nearly_the_same(steps: int) -> None:
    """Dark, a few colours, many, and noise, which is stored: the level is told by the stream (RFC 1950, 2.2)."""
    was = np.random.default_rng(steps).integers(0, steps, (3, 8, 1001), np.uint8)
    now = was.copy()
    now[:, :, 300:500] = 7
    before, packed = ([encode_chunk(part, part.shape) for part in parts] for parts in (was, now))
    alike = encode_alike(now, before)
    for chunk, part, old, fresh in zip(alike, now, before, packed, strict=True):
        np.testing.assert_array_equal(undone_by_hdf5([chunk], part.shape), part)
        assert chunk.filter_mask == old.filter_mask == (steps == 256)
        assert chunk.data[1] == old.data[1] or chunk.filter_mask
        assert steps == 256 or len(chunk.data) <= 1.2 * len(fresh.data)
