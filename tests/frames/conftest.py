"""A small invented house and the means to write its frames."""

import hashlib

import numpy as np
import pytest

from eavesong.frames import Description, FramesWriter, PatchRow, PropRow, encode_frames

TEXTS = {"layout": 'title = "Gärten"\n', "show": 'title = "Ribbon of frost"\n', "effect frost/soft": "level = x\n"}


def _house(pixels=50, title="Ribbon of frost"):
    """A house of two props: GRB pixels, and four RGBW ones at the end."""
    first, channels = pixels - 4, 3 * (pixels - 4)
    places = np.random.default_rng(3).random((pixels, 3), np.float32)
    sent = (1, 1) if channels <= 512 else (0, 0)
    return Description(
        title=title,
        frame_rate=40.0,
        places=places,
        metres=places * 10,
        props=(PropRow("eaves", 0, first, ("roof", "white"), "line"), PropRow("lantern", first, 4)),
        patch=(
            PatchRow("eaves", 0, first, 0, channels, "GRB", *sent, "attic", "192.0.2.7", "E1.31", 2),
            PatchRow("lantern", first, 4, channels, 16, "RGBW"),
        ),
        texts=TEXTS,
        start=2.0,
        song="Ribbon of frost",
        song_seconds=30.0,
        hashes={"audio": hashlib.sha256(b"song").hexdigest()},
    )


def _frames(description, count):
    """Frames with dark stretches, a moving band and sparkle, so that some chunks compress and some do not."""
    random = np.random.default_rng(7)
    frames = random.integers(0, 256, (count, description.channel_count), np.uint8)
    frames[count // 3 :, ::2] = 0
    frames[2 * count // 3 :] //= 64
    return frames


@pytest.fixture
def house():
    return _house


@pytest.fixture
def make_frames():
    return _frames


def _write(path, description, frames, chunk_frames=8):
    count = len(frames)
    with FramesWriter(path, description=description, frame_count=count, chunk_frames=chunk_frames) as writer:
        for first in range(0, count, chunk_frames):
            writer.append(encode_frames(frames[first : first + chunk_frames], chunk_frames))
    return path


@pytest.fixture
def write():
    """Write frames to a path: ``write(path, description, frames, chunk_frames=8)``; returns the path."""
    return _write


@pytest.fixture(scope="session")
def small_file(tmp_path_factory):
    """A file of 12 frames of 8 pixels; to be read only."""
    description = _house(pixels=8)
    return _write(tmp_path_factory.mktemp("small") / "small.h5", description, _frames(description, 12), 4)


@pytest.fixture
def written(tmp_path):
    """A file of 60 frames in chunks of 8, with its description and frames."""
    description = _house()
    frames = _frames(description, 60)
    return _write(tmp_path / "frost.h5", description, frames), description, frames
