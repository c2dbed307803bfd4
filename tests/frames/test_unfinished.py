"""HDF5 writes through a draft as it does into a file of its own."""

import errno
import os
from pathlib import Path
from typing import Any

import h5py
import numpy as np
import pytest

from eavesong.frames.unfinished import WAITING, Unfinished


@pytest.fixture
def draft(tmp_path: Path) -> Unfinished:
    path = tmp_path / "draft"
    path.touch()
    return Unfinished(path)


def chunked(file: h5py.File, count: int, size: int) -> h5py.h5d.DatasetID:
    plan = h5py.h5p.create(h5py.h5p.DATASET_CREATE)
    plan.set_chunk((1, size))
    plan.set_fill_time(h5py.h5d.FILL_TIME_NEVER)
    return h5py.h5d.create(file.id, b"rows", h5py.h5t.STD_U8LE, h5py.h5s.create_simple((count, size)), plan)


def test_chunks_and_all_that_hdf5_knows_of_them_are_read_by_hdf5_again(tmp_path: Path, draft: Unfinished) -> None:
    rows = np.random.default_rng(0).integers(0, 256, (50, 3000), np.uint8)
    with h5py.File(draft, "w", libver=("v110", "v110")) as file:
        file.attrs["about"] = "rows"
        table = chunked(file, *rows.shape)
        for index, row in enumerate(rows):
            draft.expect(row)
            table.write_direct_chunk((index, 0), row)
        file.create_dataset("after", data=np.arange(9))
    draft.close()
    draft.check()
    with h5py.File(tmp_path / "draft") as file:
        assert file.attrs["about"] == "rows"
        np.testing.assert_array_equal(file["rows"][:], rows)
        np.testing.assert_array_equal(file["after"][:], np.arange(9))


@pytest.mark.parametrize("most", [None, 1, 700, 2500, 1 << 20])
def test_neighbours_are_written_together_however_much_of_them_a_system_takes(
    tmp_path: Path, draft: Unfinished, most: int | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """``pwritev`` may write less than it was given (pwritev(2)); None: a system that has none."""
    if most is None:
        monkeypatch.delattr(os, "pwritev", raising=False)
    else:

        def less(handle: int, data: list[np.ndarray], at: int) -> int:
            os.lseek(handle, at, os.SEEK_SET)
            return os.write(handle, b"".join(data)[:most])

        monkeypatch.setattr(os, "pwritev", less, raising=False)
    monkeypatch.setattr("eavesong.frames.unfinished.AT_ONCE", 3)
    chunks = [np.full(size, index + 1, np.uint8) for index, size in enumerate((1000, 3, 800, 1, 1, 1200, 90))]
    for chunk in chunks:
        draft.expect(chunk)
        draft.write(chunk)
    draft.seek(5000)
    draft.expect(chunks[0])
    draft.write(chunks[0])
    draft.close()
    draft.check()
    whole = b"".join(chunk.tobytes() for chunk in chunks)
    assert (tmp_path / "draft").read_bytes() == whole.ljust(5000, b"\0") + chunks[0].tobytes()


def test_what_was_not_expected_is_written_at_once(tmp_path: Path, draft: Unfinished) -> None:
    draft.expect(np.zeros(4, np.uint8))
    draft.write(np.full(4, 7, np.uint8))  # as long, and other bytes
    assert (tmp_path / "draft").read_bytes() == b"\7\7\7\7"
    draft.close()


def test_no_more_waits_than_may(draft: Unfinished) -> None:
    chunk = np.ones(WAITING // 2 + 1, np.uint8)
    for _ in range(4):
        draft.expect(chunk)
        draft.write(chunk)
        assert len(draft._waiting) <= 1
    draft.flush()
    assert not draft._waiting
    assert os.fstat(draft._file.fileno()).st_size == 4 * chunk.size
    draft.close()


class Full:
    """A file on a disk that is full."""

    def __init__(self, file: Any) -> None:
        self.file = file
        self.asked = 0

    def write(self, _data: Any) -> int:
        self.asked += 1
        raise OSError(errno.ENOSPC, "No space left on device")

    def __getattr__(self, name: str) -> Any:
        return getattr(self.file, name)


def test_a_full_disk_is_told_and_nothing_is_tried_again(draft: Unfinished) -> None:
    full: Any = Full(draft._file)
    draft._file = full
    chunk = np.ones(100, np.uint8)
    for _ in range(3):
        draft.expect(chunk)
        draft.write(chunk)
        draft.write(b"what HDF5 knows")
    draft.close()
    assert full.asked == 1
    with pytest.raises(OSError, match="No space left"):
        draft.check()


def test_what_the_disk_refuses_meanwhile_is_told(draft: Unfinished, monkeypatch: pytest.MonkeyPatch) -> None:
    """Linux tells an error of writing back once (fsync(2)): it may not be lost."""

    def failing(_handle: int) -> None:
        raise OSError(errno.EIO, "Input/output error")

    monkeypatch.setattr(os, "fsync", failing)
    monkeypatch.setattr("eavesong.frames.unfinished.UNSYNCED", 100)
    chunk = np.ones(100, np.uint8)
    draft.expect(chunk)
    draft.write(chunk)
    draft.close()
    with pytest.raises(OSError, match="Input/output error"):
        draft.check()


def test_what_will_be_thrown_away_is_not_written(tmp_path: Path, draft: Unfinished) -> None:
    draft.give_up()
    draft.write(b"frames")
    draft.truncate(100)
    draft.close()
    draft.close()
    assert (tmp_path / "draft").read_bytes() == b""
