"""A chunk of frames as HDF5's filters would leave it on the disk; made in worker threads, outside every lock."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from eavesong.frames.format import SKIP_DEFLATE

LEVEL = 1
"""Of isal's levels 0..3: as fast as 0 on lit frames and a fifth smaller; 3 is slower than it is worth."""

PAYS_BELOW = 0.8
"""A chunk is compressed when its sample shrinks to less than this share."""

SAMPLE_BYTES = 16 << 10
SAMPLES = 4


@dataclass(frozen=True)
class EncodedChunk:
    """A chunk ready for ``FramesWriter.append``."""

    data: bytes | bytearray
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
    from isal import isal_zlib

    from eavesong.kernels.checksum import fletcher32

    count, channels = frames.shape
    if not 0 < count <= chunk_frames:
        raise ValueError(f"a chunk holds 1 to {chunk_frames} frames, not {count}")
    if frames.dtype != np.uint8:
        raise ValueError(f"frames are uint8, not {frames.dtype}")
    if count < chunk_frames:
        whole = np.zeros((chunk_frames, channels), np.uint8)
        whole[:count] = frames
        frames = whole
    raw = np.ascontiguousarray(frames).reshape(-1)
    mask = 0 if _pays(raw) else SKIP_DEFLATE
    data = raw if mask else np.frombuffer(isal_zlib.compress(raw, LEVEL), np.uint8)
    out = bytearray(data.size + 4)
    np.frombuffer(out, np.uint8)[:-4] = data
    out[-4:] = fletcher32(data).to_bytes(4, "little")
    return EncodedChunk(out, mask, count)


def _pays(raw: np.ndarray) -> bool:
    """Whether samples from all over ``raw``, uint8 (n,), shrink enough to be worth the time."""
    from isal import isal_zlib

    if raw.size <= 2 * SAMPLES * SAMPLE_BYTES:
        return True
    starts = np.linspace(0, raw.size - SAMPLE_BYTES, SAMPLES).astype(int)
    shrunk = sum(len(isal_zlib.compress(raw[at : at + SAMPLE_BYTES], LEVEL)) for at in starts)
    return bool(shrunk < PAYS_BELOW * SAMPLES * SAMPLE_BYTES)
