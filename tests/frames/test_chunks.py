"""Chunks as they lie on the disk: HDF5 itself reads what they hold."""

import zlib

import h5py
import numpy as np
import pytest

from eavesong.errors import FramesError
from eavesong.frames import open_frames
from eavesong.frames.format import CHECKSUM_BYTES, SKIP_DEFLATE


def test_a_stored_chunk_holds_the_frames_that_hdf5_reads(written):
    path, _, _ = written
    with h5py.File(path) as file:
        whole = file["frames"][:]
    kinds = set()
    with open_frames(path) as file:
        size = file.chunk_frames
        for first in range(0, file.frame_count, size):
            chunk = file.frames.stored(first)[0]
            kinds.add(chunk.filter_mask)
            body = bytes(chunk.data[:-CHECKSUM_BYTES])
            rows = np.frombuffer(body if chunk.filter_mask else zlib.decompress(body), np.uint8).reshape(size, -1)
            np.testing.assert_array_equal(rows[: len(whole) - first], whole[first : first + size])
    assert kinds == {0, SKIP_DEFLATE}


def test_where_a_system_cannot_read_at_a_place_a_file_of_its_own_reads_the_same(written, monkeypatch):
    """``os.preadv`` is there on Unix only."""
    path, _, _ = written
    with open_frames(path) as file:
        firsts = range(0, file.frame_count, file.chunk_frames)
        read = [bytes(file.frames.stored(first)[0].data) for first in firsts]
        monkeypatch.delattr("os.preadv")
        assert [bytes(file.frames.stored(first)[0].data) for first in firsts] == read


def test_a_damaged_chunk_is_told_with_its_frames(written):
    path, _, _ = written
    with h5py.File(path) as file:
        at = file["frames"].id.get_chunk_info(2).byte_offset
    data = bytearray(path.read_bytes())
    data[at + 5] ^= 0x10
    path.write_bytes(data)
    with open_frames(path) as file:
        with pytest.raises(FramesError, match="frames 16 to 23"):
            file.frames.stored(16)
        assert [problem.place for problem in file.frames.damaged(0, 60)] == ["frames 16 to 23, 0:02.40 to 0:02.60"]
        assert not file.frames.chunk_is_sound(16, 24)
        assert file.frames.chunk_is_sound(8, 16)


def test_which_channels_are_ever_lit_is_read_of_their_chunks_alone(tmp_path, house, write):
    description = house(pixels=8000)
    frames = np.zeros((20, description.channel_count), np.uint8)
    lit = np.array([5, 12_001, 12_002, 24_003])
    frames[7, lit] = 1
    path = write(tmp_path / "wide.h5", description, frames, 20)
    asked = np.array([24_003, 0, 5, 12_001, 12_000])
    with open_frames(path) as file:
        read = []
        stored = file.frames.stored
        file.frames.stored = lambda first, channels: read.extend(channels) or stored(first, channels)
        np.testing.assert_array_equal(file.frames.lit(0, asked), [True, False, True, True, False])
        file.frames.lit(0, lit[:1])
        assert [file.frames.lit(0, lit, most).all() for most in (7, 8, 100)] == [False, True, True]
    assert read[:3] == [0, 12_002, 0]
