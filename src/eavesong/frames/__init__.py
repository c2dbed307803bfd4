"""The frames file: every frame of a show in one HDF5 file that any HDF5 tool reads (``docs/frames-file.md``)."""

from eavesong.frames.description import Description, PatchRow, PropRow, describe
from eavesong.frames.encode import EncodedChunk, encode_chunk
from eavesong.frames.format import chunk_frames_for
from eavesong.frames.reader import Frames, FramesFile, open_frames
from eavesong.frames.writer import FramesWriter

__all__ = [
    "Description",
    "EncodedChunk",
    "Frames",
    "FramesFile",
    "FramesWriter",
    "PatchRow",
    "PropRow",
    "chunk_frames_for",
    "describe",
    "encode_chunk",
    "open_frames",
]
