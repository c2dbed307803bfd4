"""A file that begins as another: all that is not written anew is what it was, and none of it goes unchecked."""

import os
from dataclasses import replace
from itertools import pairwise

import h5py
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from eavesong.errors import FramesError
from eavesong.frames import EncodedFrames, FramesWriter, begun, encode_frames, open_frames, writer
from eavesong.frames.begun import Begun, can_begin
from eavesong.frames.format import chunk_frames_for


@pytest.fixture
def wide(tmp_path, house, make_frames, write):
    """A file of 60 frames in two columns, its description and frames."""
    description = house(pixels=8000)
    frames = make_frames(description, 60)
    chunk_frames = chunk_frames_for(frames.shape[1], len(frames))
    return write(tmp_path / "wide.h5", description, frames, chunk_frames), description, frames


def write_upon(path, old, description, frames, columns=()):
    """Write a file that begins as ``old``, and in some of its columns holds other frames."""
    with (
        open_frames(old) as file,
        Begun(path, upon=file.frames, workers=4) as begun,
        FramesWriter(path, description=description, frame_count=len(frames), begun=begun) as writer,
    ):
        for first in range(0, len(frames), writer.chunk_frames):
            made = encode_frames(frames[first : first + writer.chunk_frames], writer.chunk_frames)
            chunks = (chunk if column in columns else None for column, chunk in enumerate(made.chunks))
            writer.append(EncodedFrames(tuple(chunks), made.frames))
    return path


@pytest.mark.parametrize("there", [True, False])
def test_hdf5_reads_what_was_there_and_what_was_written_over_it(wide, tmp_path, monkeypatch, there):
    """``os.preadv`` and ``os.pwritev`` are there on Unix only. Changes wait for the copy, but not all in memory."""
    path, description, frames = wide
    monkeypatch.setattr(writer, "HELD", 100_000 if there else 1 << 30)
    if not there:
        monkeypatch.delattr(os, "preadv", raising=False)
        monkeypatch.delattr(os, "pwritev", raising=False)
    monkeypatch.setattr(begun, "AT_ONCE", 100_000)
    other = frames.copy()
    width = h5py.File(path)["frames"].chunks[1]
    other[:, width:] = 255 - other[:, width:]
    told = replace(description, title="Another frost", texts={"show": "x = 1\n", "effect even": ""})
    new = write_upon(tmp_path / "new.h5", path, told, other, columns=(1,))
    with h5py.File(new) as file:
        np.testing.assert_array_equal(file["frames"][:], other)
        assert set(file["texts"]) == {"show", "effect even"}
        assert file.attrs["complete"] == 1
    with open_frames(new) as file:
        file.verify()
        assert (file.title, file.frame_count) == ("Another frost", 60)
    again = write_upon(tmp_path / "again.h5", path, told, other, columns=(1,))
    assert again.read_bytes() == new.read_bytes()


def test_a_damaged_chunk_is_told_and_nothing_is_left(wide, tmp_path, monkeypatch):
    path, description, frames = wide
    monkeypatch.setattr(begun, "AT_ONCE", 1 << 20)
    with open_frames(path) as file:
        size = file.chunk_frames
        at, _, _ = file.frames.lying[size, file.frames.dataset.chunks[1]]
    data = bytearray(path.read_bytes())
    data[at + 1000] ^= 4
    path.write_bytes(data)
    with pytest.raises(FramesError, match=f"frames {size} to {min(2 * size, 60) - 1}, .* do not fit their checksum"):
        write_upon(tmp_path / "new.h5", path, description, frames)
    assert [entry.name for entry in tmp_path.iterdir()] == ["wide.h5"]


def test_who_gives_up_meanwhile_leaves_nothing(wide, tmp_path, monkeypatch):
    path, _, _ = wide
    monkeypatch.setattr(begun, "AT_ONCE", 1000)  # some hundred parts: most are still to come
    with (
        pytest.raises(KeyboardInterrupt),
        open_frames(path) as file,
        Begun(tmp_path / "new.h5", upon=file.frames),
    ):
        raise KeyboardInterrupt
    assert [entry.name for entry in tmp_path.iterdir()] == ["wide.h5"]


def test_only_a_file_of_the_same_chunks_that_is_of_use_can_begin_another(wide, monkeypatch):
    path, description, frames = wide
    with open_frames(path) as file:
        assert can_begin(file.frames, frames.shape)
        assert not can_begin(file.frames, (59, description.channel_count))
        assert not can_begin(file.frames, (60, description.channel_count + 3))
        monkeypatch.setattr(begun, "IDLE_BYTES", 0)
        monkeypatch.setattr(begun, "MOST_IDLE", 0.0)
        assert not can_begin(file.frames, frames.shape)


def test_what_is_left_as_it_is_must_be_there(tmp_path, house):
    description = house()
    made = EncodedFrames((None,), 9)
    with (
        pytest.raises(ValueError, match="begins empty"),
        FramesWriter(tmp_path / "new.h5", description=description, frame_count=9) as writer,
    ):
        writer.append(made)


@given(parts=st.lists(st.tuples(st.integers(0, 50), st.integers(1, 40)), max_size=12), rest=st.integers(0, 60))
def test_a_file_is_parted_between_its_chunks(parts, rest):
    """parts: bytes of no chunk, and of the chunk behind them."""
    begins, ends, upto = [], [], 0
    for idle, size in parts:
        begins.append(upto + idle)
        upto += idle + size
        ends.append(upto)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(begun, "AT_ONCE", 32)
        spans = list(begun._spans(np.array(begins, int), np.array(ends, int), upto + rest))
    assert [begin for begin, _ in spans] == [0, *(end for _, end in spans[:-1])]
    assert spans[-1][1] == upto + rest
    inside = [range(begin + 1, end) for begin, end in zip(begins, ends, strict=True)]
    assert not any(end in chunk for _, end in spans for chunk in inside)
    assert all(end - begin <= max(32, *(b - a for a, b in zip(begins, ends, strict=True)), 0) for begin, end in spans)
    assert all(second[1] - first[0] > 32 for first, second in pairwise(spans))
