"""A chunk of frames as HDF5's filters would leave it on the disk; made in worker threads, outside every lock."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from eavesong.frames.format import SKIP_DEFLATE

PAYS_BELOW = 0.8
"""A chunk is compressed where its sample shrinks to less than this share; storing takes a seventh of the time."""

REPEATS_BELOW = 0.8
"""A general compressor takes over where it makes this share of what ours does of the sample: colours from one palette
all over the house, shapes that come again, a house all dark."""

LEVEL = 1
"""Of isal's levels 0..3: hardly slower than 0 and a fifth smaller; 2 gains nothing, 3 is larger and slower."""

CHECKSUM_BYTES = 4

SAMPLE_BYTES = 32 << 10
SAMPLE_PIECE = 8 << 10

PIXEL_WIDTHS = (3, 4)
"""Channels of a pixel (RGB, RGBW): how far back the pixel before it on the wire lies."""


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
    from eavesong.kernels.checksum import fletcher32

    raw = _whole_chunk(frames, chunk_frames)
    data = _zlib_stream(raw, frames.shape[1])
    mask = 0
    if data is None:
        mask = SKIP_DEFLATE
        data = np.empty(raw.size + CHECKSUM_BYTES, np.uint8)
        data[:-CHECKSUM_BYTES] = raw
    data[-CHECKSUM_BYTES:] = np.frombuffer(fletcher32(data[:-CHECKSUM_BYTES]).to_bytes(4, "little"), np.uint8)
    return EncodedChunk(data, mask, len(frames))


def _whole_chunk(frames: np.ndarray, chunk_frames: int) -> np.ndarray:
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


def _zlib_stream(raw: np.ndarray, channels: int) -> np.ndarray | None:
    """``raw`` compressed by what suits it, with room for a checksum behind; None where that saves too little.

    RFC 1950: two bytes ahead (DEFLATE, 32 KiB window, fastest), the Adler-32 of the data behind, big endian.
    """
    from isal import isal_zlib

    from eavesong.kernels.deflate import FARTHEST, deflate

    distances = (*PIXEL_WIDTHS, channels) if channels <= FARTHEST else PIXEL_WIDTHS
    sample = _sample(raw, max(distances))
    ours = deflate(sample, distances).size
    general = len(isal_zlib.compress(sample, LEVEL))
    if min(ours, general) > PAYS_BELOW * sample.size and sample.size < raw.size:
        return None
    if general < REPEATS_BELOW * ours:
        stream = np.frombuffer(bytearray(isal_zlib.compress(raw, LEVEL) + bytes(CHECKSUM_BYTES)), np.uint8)
    else:
        stream = deflate(raw, distances, ahead=2, behind=4 + CHECKSUM_BYTES)
        stream[:2] = 0x78, 0x01
        stream[-8:-4] = np.frombuffer(isal_zlib.adler32(raw).to_bytes(4, "big"), np.uint8)
    return stream if stream.size < raw.size + CHECKSUM_BYTES else None


def _sample(raw: np.ndarray, farthest: int) -> np.ndarray:
    """Pieces from all over ``raw``, each long enough to hold repeats at the distance ``farthest``."""
    piece = max(SAMPLE_PIECE, 3 * farthest)
    count = max(1, SAMPLE_BYTES // piece)
    if raw.size <= count * piece:
        return raw
    starts = np.linspace(0, raw.size - piece, count + 2).astype(int)[1:-1]
    return np.concatenate([raw[start : start + piece] for start in starts])
