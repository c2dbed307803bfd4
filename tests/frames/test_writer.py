"""A frames file is the old one or the complete new one, whatever happens on the way."""

import os
import random
import resource
import signal
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor

import h5py
import numpy as np
import pytest

from eavesong.errors import OutputError
from eavesong.frames import FramesWriter, encode_frames, open_frames


def files_in(folder):
    return sorted(entry.name for entry in folder.iterdir())


def test_hdf5_reads_the_frames_that_were_written(written):
    path, description, frames = written
    with h5py.File(path) as file:
        np.testing.assert_array_equal(file["frames"][:], frames)
        np.testing.assert_array_equal(file["places"][:], description.places)
        assert file["frames"].chunks == (8, description.channel_count)
        assert file["frames"].fletcher32
        assert file["frames"].compression == "gzip"
        assert file.attrs["format"] == b"eavesong frames 1"
        assert file.attrs["complete"] == 1
        assert file.attrs["frame_rate"] == 40


def test_chunks_of_both_kinds_stand_side_by_side(tmp_path, house, write):
    """Noise is stored, darkness compressed; one filter mask for each chunk (H5Dget_chunk_info)."""
    description = house(pixels=50_000)
    frames = np.zeros((4, description.channel_count), np.uint8)
    frames[:2] = np.random.default_rng(0).integers(0, 256, frames[:2].shape)
    path = write(tmp_path / "frost.h5", description, frames, chunk_frames=2)
    with h5py.File(path) as file:
        assert file.attrs["format"] == b"eavesong frames 2"  # wide ones lie in columns
        columns = -(-description.channel_count // file["frames"].chunks[1])
        masks = [file["frames"].id.get_chunk_info(index).filter_mask for index in range(2 * columns)]
        assert masks == columns * [1] + columns * [0]
        np.testing.assert_array_equal(file["frames"][:], frames)


def test_workers_that_finish_in_another_order_change_no_byte(tmp_path, house, make_frames, write):
    description = house()
    frames = make_frames(description, 60)
    alone = write(tmp_path / "alone.h5", description, frames, chunk_frames=4)
    delays = random.Random(5)

    def late(first):
        time.sleep(delays.random() / 100)
        return encode_frames(frames[first : first + 4], 4)

    together = tmp_path / "together.h5"
    with (
        ThreadPoolExecutor(4) as workers,
        FramesWriter(together, description=description, frame_count=60, chunk_frames=4) as writer,
    ):
        for chunk in workers.map(late, range(0, 60, 4)):
            writer.append(chunk)
    assert together.read_bytes() == alone.read_bytes()


def test_a_body_that_raises_leaves_nothing_behind_and_its_error_untouched(tmp_path, house):
    path = tmp_path / "frost.h5"
    with (
        pytest.raises(FileNotFoundError, match="no song"),
        FramesWriter(path, description=house(), frame_count=9),
    ):
        raise FileNotFoundError("no song")
    assert files_in(tmp_path) == []


def test_a_writer_that_is_left_too_early_leaves_the_old_file(written, house, make_frames):
    path, description, frames = written
    old = path.read_bytes()
    with (
        pytest.raises(ValueError, match="8 of 60 frames were appended"),
        FramesWriter(path, description=description, frame_count=60, chunk_frames=8) as writer,
    ):
        writer.append(encode_frames(frames[:8], 8))
    assert path.read_bytes() == old
    assert files_in(path.parent) == ["frost.h5"]


def test_chunks_of_the_wrong_length_are_refused(tmp_path, house, make_frames):
    description = house()
    frames = make_frames(description, 10)
    with FramesWriter(tmp_path / "f.h5", description=description, frame_count=10, chunk_frames=8) as writer:
        with pytest.raises(ValueError, match="the next chunk holds 8 frames, not 2"):
            writer.append(encode_frames(frames[8:], 8))
        writer.append(encode_frames(frames[:8], 8))
        writer.append(encode_frames(frames[8:], 8))
        with pytest.raises(ValueError, match="the next chunk holds 0 frames, not 2"):
            writer.append(encode_frames(frames[8:], 8))


def test_a_missing_folder_is_an_output_error(tmp_path, house):
    with (
        pytest.raises(OutputError, match=r"frost\.h5: cannot be written: No such file or directory"),
        FramesWriter(tmp_path / "none" / "frost.h5", description=house(), frame_count=9),
    ):
        pass


WRITES = """
import sys, time, numpy as np, resource, signal
sys.path.insert(0, {tests!r})
from conftest import _house
from eavesong.errors import OutputError
from eavesong.frames import FramesWriter, encode_frames
description = _house()
noise = np.random.default_rng(0).integers(0, 256, (8, description.channel_count), np.uint8)
try:
    with FramesWriter({path!r}, description=description, frame_count=80_000, chunk_frames=8) as writer:
        if {limit}:
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, ({limit}, {limit}))
        for _ in range(10_000):
            writer.append(encode_frames(noise, 8))
            if writer.frames_written == 800:
                print("started", flush=True)
            time.sleep({pause})
except OutputError as fault:
    print(fault)
    sys.exit(fault.exit_code)
"""


def start_writing(path, limit=0, pause=0.0):
    script = WRITES.format(tests=os.path.dirname(__file__), path=str(path), limit=limit, pause=pause)
    return subprocess.Popen([sys.executable, "-c", script], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="this system cannot kill a process outright")
def test_a_killed_writer_leaves_the_old_file_whole(written):
    path, _, frames = written
    old = path.read_bytes()
    writing = start_writing(path, pause=0.001)
    assert writing.stdout.readline() == "started\n"
    writing.send_signal(signal.SIGKILL)
    writing.communicate()
    assert writing.returncode == -signal.SIGKILL
    assert path.read_bytes() == old
    with open_frames(path) as file:
        file.verify()
        np.testing.assert_array_equal(file.frames[:], frames)


@pytest.mark.skipif(not hasattr(resource, "RLIMIT_FSIZE"), reason="this system has no limit on the size of files")
@pytest.mark.parametrize("limit", [20_000, 300_000])
def test_a_disk_that_is_full_is_an_output_error_and_leaves_the_old_file(written, limit):
    """A process that may write no more gets EFBIG (setrlimit(2)) where a full disk gives ENOSPC."""
    path, _, _ = written
    old = path.read_bytes()
    writing = start_writing(path, limit=limit)
    told, complaints = writing.communicate(timeout=300)
    assert f"{path}: cannot be written: File too large" in told
    # The cache lies on the same "disk": that it is of no use is said, and nothing else.
    assert all(line.startswith("The cache is of no use") for line in complaints.splitlines())
    assert writing.returncode == 4
    assert path.read_bytes() == old
    assert files_in(path.parent) == ["frost.h5"]


def test_what_is_no_frames_file_is_not_overwritten(tmp_path, house):
    """A name typed wrongly must not cost the layout, the show or the song."""
    layout = tmp_path / "house.toml"
    layout.write_text('title = "House"')
    with (
        pytest.raises(
            OutputError, match="is there already, and is no frames file of eavesong\n    Choose another name, delete it"
        ),
        FramesWriter(layout, description=house(), frame_count=1),
    ):
        pass
    assert layout.read_text() == 'title = "House"'


def test_someone_elses_hdf5_file_is_not_overwritten_but_by_word(tmp_path, house):
    """Not even one that looks like ours: its ``format`` attribute decides."""
    foreign = tmp_path / "foreign.h5"
    with h5py.File(foreign, "w") as file:
        file.attrs["about"] = "read by eavesong frames tools"
        file["data"] = [1, 2, 3]
    before = foreign.read_bytes()
    with (
        pytest.raises(OutputError, match="no frames file of eavesong"),
        FramesWriter(foreign, description=house(), frame_count=9),
    ):
        pass
    assert foreign.read_bytes() == before
    with FramesWriter(foreign, description=house(), frame_count=9, chunk_frames=9, overwrite=True) as writer:
        writer.append(encode_frames(np.zeros((9, writer.description.channel_count), np.uint8), 9))
    with open_frames(foreign) as file:
        assert file.frame_count == 9


def test_damaged_frames_are_replaced(written, house):
    path, _, _ = written
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    with FramesWriter(path, description=house(), frame_count=9, chunk_frames=9) as writer:
        writer.append(encode_frames(np.zeros((9, writer.description.channel_count), np.uint8), 9))
    with open_frames(path) as file:
        assert file.frame_count == 9


def test_a_folder_is_never_replaced(tmp_path, house):
    with (
        pytest.raises(OutputError, match="is a folder\n    Name a file in it"),
        FramesWriter(tmp_path, description=house(), frame_count=9, overwrite=True),
    ):
        pass
