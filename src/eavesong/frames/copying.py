"""Chunks of one frames file as they lie on the disk, to be copied into another with some of their channels changed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.frames.encode import CHECKSUM_BYTES, LEVELS, EncodedChunk, encode_chunk
from eavesong.frames.format import SKIP_DEFLATE
from eavesong.frames.segments import spliced

if TYPE_CHECKING:
    from eavesong.frames.reader import FramesFile

Bytes = NDArray[np.uint8]


@dataclass(frozen=True, eq=False)
class StoredChunk:
    """A chunk as it lies on the disk."""

    data: Bytes
    """uint8 (n,), checksum included."""
    filter_mask: int
    first: int
    """Its first frame in the file."""
    frames: int
    shape: tuple[int, int]
    """Frames and channels when unpacked, fill of the last chunk included."""


def stored_chunk(file: FramesFile, first: int) -> StoredChunk:
    """The chunk that begins with frame ``first`` of an open frames file. FramesError when it is damaged."""
    end = min(first + file.chunk_frames, file.frame_count)
    try:
        mask, data = file.frames.dataset.id.read_direct_chunk((first, 0))
    except (OSError, RuntimeError, ValueError):
        mask, data = 0, b""
    chunk = StoredChunk(
        np.frombuffer(data, np.uint8), mask, first, end - first, (file.chunk_frames, file.channel_count)
    )
    if not _fits(chunk):
        file.frames[first:end]  # raises FramesError that names the frames and their time
        raise ValueError(f"HDF5 reads frames {first} to {end - 1}, but their chunk is of another make")
    return chunk


def _fits(chunk: StoredChunk) -> bool:
    """Whether a chunk carries the checksum that fits it."""
    from eavesong.kernels.checksum import fletcher32

    size = len(chunk.data) - CHECKSUM_BYTES
    if size <= 0 or chunk.filter_mask & ~SKIP_DEFLATE:
        return False
    return fletcher32(chunk.data[:size]) == int.from_bytes(chunk.data[size:].tobytes(), "little")


def unpacked(chunk: StoredChunk) -> Bytes:
    """The frames of a chunk, uint8 (frames, channels)."""
    from isal import isal_zlib

    body = chunk.data[:-CHECKSUM_BYTES]
    if chunk.filter_mask & SKIP_DEFLATE:
        raw = body
    else:
        # One byte more than there should be: reshape then tells, and no stream unpacks for ever.
        raw = np.frombuffer(isal_zlib.decompressobj().decompress(body, math.prod(chunk.shape) + 1), np.uint8)
    return raw.reshape(chunk.shape)[: chunk.frames]


def with_channels(chunk: StoredChunk, runs: Sequence[tuple[int, int]], rows: Bytes) -> EncodedChunk:
    """``chunk`` with the channels of ``runs``, (first, end) each, taken from ``rows`` (frames, channels).

    What is stored in segments is compressed anew only where it changes. Safe in any thread.
    """
    if not runs:
        return EncodedChunk(chunk.data, chunk.filter_mask, chunk.frames)
    if chunk.filter_mask & SKIP_DEFLATE:
        whole = chunk.data.copy()
        table = whole[:-CHECKSUM_BYTES].reshape(chunk.shape)
        for first, end in runs:
            table[: chunk.frames, first:end] = rows[:, first:end]
        return _checksummed(whole, chunk)
    width = chunk.shape[1]
    changes = [(row * width + a, rows[row, a:b]) for row in range(chunk.frames) for a, b in runs]
    stream = spliced(bytes(chunk.data[:-CHECKSUM_BYTES]), chunk.shape[0] * width, changes, LEVELS[0])
    if stream is None:
        frames = unpacked(chunk).copy()
        for first, end in runs:
            frames[:, first:end] = rows[:, first:end]
        return encode_chunk(frames, chunk.shape[0])
    stream.extend(bytes(CHECKSUM_BYTES))
    return _checksummed(np.frombuffer(stream, np.uint8), chunk)


def _checksummed(whole: Bytes, chunk: StoredChunk) -> EncodedChunk:
    from eavesong.kernels.checksum import fletcher32

    size = len(whole) - CHECKSUM_BYTES
    whole[size:] = np.frombuffer(fletcher32(whole[:size]).to_bytes(CHECKSUM_BYTES, "little"), np.uint8)
    return EncodedChunk(whole, chunk.filter_mask, chunk.frames)
