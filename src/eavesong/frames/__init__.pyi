from .chunks import Frames
from .description import Description, PatchRow, PropRow, describe
from .encode import EncodedFrames, encode_frames
from .format import chunk_frames_for
from .reader import FramesFile, open_frames
from .writer import FramesWriter

__all__ = [
    "Description",
    "EncodedFrames",
    "Frames",
    "FramesFile",
    "FramesWriter",
    "PatchRow",
    "PropRow",
    "chunk_frames_for",
    "describe",
    "encode_frames",
    "open_frames",
]
