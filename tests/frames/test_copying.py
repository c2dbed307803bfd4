"""Chunks taken from the disk and put back with some channels changed: HDF5 itself reads what comes of it."""

import h5py
import numpy as np
import pytest

from eavesong.errors import FramesError
from eavesong.frames import FramesWriter, open_frames
from eavesong.frames.copying import stored_chunk, unpacked, with_channels


def test_a_stored_chunk_holds_the_frames_that_hdf5_reads(written):
    path, _, _ = written
    with h5py.File(path) as file:
        whole = file["frames"][:]
    with open_frames(path) as file:
        for first in range(0, file.frame_count, file.chunk_frames):
            chunk = stored_chunk(file, first)
            assert (chunk.first, chunk.frames) == (first, min(file.chunk_frames, file.frame_count - first))
            np.testing.assert_array_equal(unpacked(chunk), whole[first : first + chunk.frames])


@pytest.mark.parametrize("runs", [(), ((0, 3),), ((5, 20), (60, 61), (100, 154)), ((0, 154),)])
def test_changed_channels_are_new_and_all_others_as_they_were(written, tmp_path, runs):
    path, description, _ = written
    fresh = np.random.default_rng(5).integers(0, 256, (60, 154), np.uint8)
    with (
        open_frames(path) as file,
        FramesWriter(tmp_path / "new.h5", description=description, frame_count=60, chunk_frames=8) as writer,
    ):
        for first in range(0, 60, 8):
            writer.append(with_channels(stored_chunk(file, first), runs, fresh[first : first + 8]))
    with h5py.File(path) as old, h5py.File(tmp_path / "new.h5") as new:
        wanted = old["frames"][:]
        for first, end in runs:
            wanted[:, first:end] = fresh[:, first:end]
        np.testing.assert_array_equal(new["frames"][:], wanted)


def test_a_damaged_chunk_is_not_copied(written):
    path, _, _ = written
    with h5py.File(path) as file:
        at = file["frames"].id.get_chunk_info(2).byte_offset
    data = bytearray(path.read_bytes())
    data[at + 5] ^= 0x10
    path.write_bytes(data)
    with open_frames(path) as file, pytest.raises(FramesError, match="frames 16 to 23"):
        stored_chunk(file, 16)
