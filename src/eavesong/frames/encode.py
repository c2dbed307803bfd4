"""A chunk of frames as HDF5's filters would leave it on the disk; made in worker threads, outside every lock."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from eavesong.frames.format import CHECKSUM_BYTES, SKIP_DEFLATE
from eavesong.frames.segments import segmented

PAYS_BELOW = 2 / 3
"""A chunk is compressed where its sample shrinks to less than this share. Compressing takes about five times as long
as storing, so it has to save a third at least."""

LEVELS = (1, 0)
"""Of isal's levels 0 to 3, those worth a try: 1 is the best on lit frames, 0 where one frame repeats another. 2 gains
nothing over 1, and 3 is several times slower."""

SAMPLE_BYTES = 32 << 10
SAMPLE_PIECE = 8 << 10

WINDOW = 32 << 10
"""How far back DEFLATE looks (RFC 1951, 2): a frame that fits in it can repeat the one before."""


@dataclass(frozen=True)
class EncodedChunk:
    """A chunk ready for ``FramesWriter.append``."""

    data: np.ndarray
    """uint8 (n,): what stands in the file, checksum included."""
    filter_mask: int
    """HDF5's: bit n set where filter n of the file was skipped."""
    frames: int
    """How many frames it holds; fewer than the file's chunks have only in the last one."""


def encode_chunk(frames: np.ndarray, chunk_frames: int) -> EncodedChunk:
    """Compress and checksum up to ``chunk_frames`` frames, uint8 (frame, channel), C-contiguous.

    DEFLATE in zlib's container (RFC 1950, 1951), then Fletcher-32, as HDF5's filters 1 and 3 write them. Where
    DEFLATE does not pay the bytes stay as they are and the filter mask says so. A chunk with fewer frames is
    filled up with zeros, as HDF5 does. The result depends on nothing but the frames. Safe in any thread.
    """
    raw = whole_chunk(frames, chunk_frames)
    stream = _zlib_stream(raw, frames.shape[1])
    if stream is not None:
        return checksummed(np.frombuffer(stream, np.uint8), True, len(frames))
    data = np.empty(raw.size + CHECKSUM_BYTES, np.uint8)
    data[:-CHECKSUM_BYTES] = raw
    return checksummed(data, False, len(frames))


def checksummed(data: np.ndarray, deflated: bool, frames: int) -> EncodedChunk:
    """The chunk whose data stand in ``data``, uint8 (n,), with room for the checksum behind, which is filled in."""
    from eavesong.kernels.checksum import fletcher32

    data[-CHECKSUM_BYTES:] = np.frombuffer(fletcher32(data[:-CHECKSUM_BYTES]).to_bytes(4, "little"), np.uint8)
    return EncodedChunk(data, 0 if deflated else SKIP_DEFLATE, frames)


def whole_chunk(frames: np.ndarray, chunk_frames: int) -> np.ndarray:
    """The chunk's bytes, uint8 (chunk_frames · channels,), filled up with zeros."""
    count, channels = frames.shape
    if not 0 < count <= chunk_frames:
        raise ValueError(f"a chunk holds 1 to {chunk_frames} frames, not {count}")
    if frames.dtype != np.uint8:
        raise ValueError(f"frames are uint8, not {frames.dtype}")
    if count < chunk_frames:
        whole = np.zeros((chunk_frames, channels), np.uint8)
        whole[:count] = frames
        frames = whole
    return np.ascontiguousarray(frames).reshape(-1)


def _zlib_stream(raw: np.ndarray, channels: int) -> bytearray | None:
    """``raw`` compressed, with room for a checksum behind; None where that saves too little."""
    from isal import isal_zlib

    sample = _sample(raw, 3 * channels if channels <= WINDOW else SAMPLE_PIECE)
    levels = LEVELS if channels <= WINDOW else LEVELS[:1]
    size, level = min((len(isal_zlib.compress(sample, level)), -level) for level in levels)
    if sample.size < raw.size and size > PAYS_BELOW * sample.size:
        return None
    stream = segmented(raw) if channels > WINDOW else None
    if stream is None:
        stream = bytearray(isal_zlib.compress(raw, -level))
    stream.extend(bytes(CHECKSUM_BYTES))
    return stream if len(stream) < raw.size + CHECKSUM_BYTES else None


def _sample(raw: np.ndarray, piece: int) -> np.ndarray:
    """Stretches from all over ``raw``, each at least ``piece`` bytes long."""
    piece = max(piece, SAMPLE_PIECE)
    count = max(1, SAMPLE_BYTES // piece)
    if raw.size <= count * piece:
        return raw
    starts = np.linspace(0, raw.size - piece, count + 2).astype(int)[1:-1]
    return np.concatenate([raw[start : start + piece] for start in starts])
