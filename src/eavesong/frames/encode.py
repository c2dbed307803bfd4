"""Frames as HDF5's filters would leave them on the disk, chunk by chunk; made in worker threads, outside every lock."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from eavesong.frames.format import CHECKSUM_BYTES, SKIP_DEFLATE, column_width_for

PAYS_BELOW = 0.72
"""A chunk is compressed where its sample shrinks to less than this share. Compressing takes about five times as long
as storing, so it has to save a third at least; a sample shrinks by some 0.05 less than all of its chunk."""

HOPELESS = 0.9
"""Share to which a sample shrinks at the first of LEVELS from which on the others are not tried: where frames repeat,
it shrinks at any."""

LEVELS = (1, 0)
"""Of isal's levels 0 to 3, those worth a try: 1 is the best on lit frames, 0 where one frame repeats another. 2 gains
nothing over 1, and 3 is several times slower."""

SAMPLE_BYTES = 16 << 10

PIECES, IN_A_ROW = 4, 3
"""A sample's pieces, from all over the chunk, and frames of each at least: they show whether frames repeat."""


@dataclass(frozen=True)
class Chunk:
    """What stands in the file of one of HDF5's chunks."""

    data: np.ndarray
    """uint8 (n,): its checksum included."""
    filter_mask: int
    """HDF5's: bit n set where filter n of the file was skipped."""


@dataclass(frozen=True)
class EncodedFrames:
    """Frames ready for ``FramesWriter.append``."""

    chunks: tuple[Chunk | None, ...]
    """Column by column, see ``column_width_for``; None for one that the file holds already."""
    frames: int
    """How many frames they hold; fewer than the file's chunks have only at its end."""


def encode_frames(frames: np.ndarray, chunk_frames: int) -> EncodedFrames:
    """Compress and checksum up to ``chunk_frames`` frames, uint8 (frame, channel).

    DEFLATE in zlib's container (RFC 1950, 1951), then Fletcher-32, as HDF5's filters 1 and 3 write them. Where
    DEFLATE does not pay the bytes stay as they are and the filter mask says so. Chunks that reach beyond the frames or
    their channels are filled up with zeros, as HDF5 does. A chunk depends on nothing but what it holds. Safe in any
    thread.
    """
    count, channels = frames.shape
    if not 0 < count <= chunk_frames:
        raise ValueError(f"a chunk holds 1 to {chunk_frames} frames, not {count}")
    if frames.dtype != np.uint8:
        raise ValueError(f"frames are uint8, not {frames.dtype}")
    width = column_width_for(channels)
    columns = (frames[:, first : first + width] for first in range(0, channels, width))
    return EncodedFrames(tuple(encode_chunk(column, (chunk_frames, width)) for column in columns), count)


def encode_chunk(part: np.ndarray, shape: tuple[int, int]) -> Chunk:
    """One chunk of ``shape`` (frames, channels) that holds ``part``, uint8, as large or smaller; see
    ``encode_frames``."""
    from isal import isal_zlib

    whole = np.empty(math.prod(shape) + CHECKSUM_BYTES, np.uint8)  # as it is stored where packing does not pay
    raw = whole[:-CHECKSUM_BYTES].reshape(shape)
    if part.shape != shape:
        raw[:] = 0
    raw[: part.shape[0], : part.shape[1]] = part
    level = _best_level(raw)
    if level is not None:
        stream = isal_zlib.compress(raw, level)
        if len(stream) < raw.size:
            return _checksummed(stream, 0)
    return _summed(whole, SKIP_DEFLATE)


def encode_alike(raw: np.ndarray, like: Sequence[Chunk]) -> list[Chunk]:
    """The chunks that hold ``raw``, uint8 (chunks, frames, channels) in one piece, each packed as the one was that held
    nearly the same: nothing is tried, and all of them are summed together, as threads that do little at a time wait for
    each other."""
    from isal import isal_zlib

    from eavesong.kernels.checksum import fletcher32_of

    bodies: list[Any] = []
    masks = []
    for part, chunk in zip(raw, like, strict=True):
        level = _level_of(chunk)
        stream = None if level is None else isal_zlib.compress(part, level)
        plain = stream is None or len(stream) >= part.size
        bodies.append(part.reshape(-1) if plain else stream)
        masks.append(SKIP_DEFLATE if plain else 0)
    ends = np.cumsum([len(body) + CHECKSUM_BYTES for body in bodies])
    sizes = np.array([len(body) for body in bodies], np.int64)
    begins = ends - sizes - CHECKSUM_BYTES
    room = bytes(CHECKSUM_BYTES)
    data = np.frombuffer(bytearray().join(each for body in bodies for each in (body, room)), np.uint8)
    sums = fletcher32_of(data, begins, sizes).astype("<u4").view(np.uint8)
    data[(begins + sizes)[:, None] + np.arange(CHECKSUM_BYTES)] = sums.reshape(-1, CHECKSUM_BYTES)
    return [
        Chunk(data[begin:end], mask) for begin, end, mask in zip(begins.tolist(), ends.tolist(), masks, strict=True)
    ]


def _best_level(raw: np.ndarray) -> int | None:
    """The level that packs a sample of a chunk best; None where packing does not pay."""
    from isal import isal_zlib

    sample = _sample(raw)
    first, *others = LEVELS
    sizes = [(len(isal_zlib.compress(sample, first)), -first)]
    if sizes[0][0] < HOPELESS * sample.size or sample.size == raw.size:
        sizes += [(len(isal_zlib.compress(sample, level)), -level) for level in others]
    size, level = min(sizes)
    return -level if sample.size == raw.size or size <= PAYS_BELOW * sample.size else None


def _level_of(chunk: Chunk) -> int | None:
    """The level that a chunk was packed at, None for one that is stored as it is: FLEVEL in its second byte is 0 for
    the fastest (RFC 1950, 2.2), as isal writes it for its level 0 alone."""
    if chunk.filter_mask & SKIP_DEFLATE or len(chunk.data) < 2:
        return None
    return LEVELS[0] if chunk.data[1] >> 6 else 0


def encode_table(table: np.ndarray) -> Chunk:
    """The one chunk of a small dataset of any type, compressed where that makes it smaller: sooner than HDF5 does it.

    By isal's level 0, which packs one table alike in every process; level 1 does not.
    """
    from isal import isal_zlib

    raw = np.ascontiguousarray(table).reshape(-1).view(np.uint8)
    stream = isal_zlib.compress(raw.data, 0)
    return _checksummed(stream, 0) if len(stream) < raw.size else _checksummed(raw.data, SKIP_DEFLATE)


def decode_chunk(chunk: Chunk, shape: tuple[int, int], rows: int | None = None) -> np.ndarray | None:
    """What a chunk of ``shape`` holds, uint8, not to be changed, or the first ``rows`` of it alone; None where it holds
    something else.

    Its checksum is not looked at. No lock is held meanwhile, unlike where HDF5 unpacks.
    """
    from isal import isal_zlib

    body, size = chunk.data[:-CHECKSUM_BYTES], math.prod(shape)
    if chunk.filter_mask & SKIP_DEFLATE:
        return body.reshape(shape)[:rows] if body.size == size else None
    damaged: type[Exception] = getattr(isal_zlib, "error", ValueError)  # its stub calls the class an instance
    due = size if rows is None else rows * shape[1]
    try:
        held = isal_zlib.decompressobj().decompress(body, due + (rows is None))
    except (EOFError, ValueError, damaged):
        return None
    return np.frombuffer(held, np.uint8).reshape(-1, shape[1]) if len(held) == due else None


def _checksummed(body: bytes | memoryview, filter_mask: int) -> Chunk:
    """The chunk that holds ``body``, with Fletcher-32 behind it."""
    whole = np.empty(len(body) + CHECKSUM_BYTES, np.uint8)
    whole[:-CHECKSUM_BYTES] = np.frombuffer(body, np.uint8)
    return _summed(whole, filter_mask)


def _summed(whole: np.ndarray, filter_mask: int) -> Chunk:
    """The chunk that ``whole`` holds, whose last bytes become the Fletcher-32 of all before them."""
    from eavesong.kernels.checksum import fletcher32

    sum32 = fletcher32(whole[:-CHECKSUM_BYTES])
    whole[-CHECKSUM_BYTES:] = np.frombuffer(sum32.to_bytes(CHECKSUM_BYTES, "little"), np.uint8)
    return Chunk(whole, filter_mask)


def _sample(raw: np.ndarray) -> np.ndarray:
    """Pieces from all over a chunk (frames, channels), each of some frames in a row and the same channels of all."""
    count, channels = raw.shape
    width = min(channels, SAMPLE_BYTES // (PIECES * IN_A_ROW))
    rows = min(count, max(IN_A_ROW, SAMPLE_BYTES // (PIECES * width)))
    if PIECES * rows * width >= raw.size:
        return raw
    down, across = (count - rows) / (PIECES + 1), (channels - width) / (PIECES + 1)
    at = [(int(down * piece), int(across * piece)) for piece in range(1, PIECES + 1)]
    return np.concatenate([raw[row : row + rows, left : left + width].ravel() for row, left in at])
