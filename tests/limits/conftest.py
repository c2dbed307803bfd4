"""Small invented houses with power, and frames files of any bytes."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from eavesong.frames import FramesFile, FramesWriter, describe, encode_frames, open_frames
from eavesong.layout import Layout, load_layout
from powered import LINE


@pytest.fixture
def house(tmp_path: Path) -> Callable[[str], Layout]:
    """Write a layout's text to ``house.toml`` and load it."""

    def load(text: str = LINE) -> Layout:
        path = tmp_path / "house.toml"
        path.write_text(text)
        return load_layout(path)

    return load


@pytest.fixture
def film(tmp_path: Path) -> Callable[..., FramesFile]:
    """A frames file for a layout with these bytes (f, channels), or (f,) for the same grey everywhere."""
    opened: list[FramesFile] = []

    def make(layout: Layout, frames: NDArray[np.uint8], rate: float = 40.0, /, **texts: str) -> FramesFile:
        channels = layout.patch.channel_count
        frames = np.asarray(frames, np.uint8)
        if frames.ndim == 1:
            frames = np.repeat(frames[:, None], channels, axis=1)
        path = tmp_path / f"film-{len(opened)}.h5"
        about = describe(layout, title="Film", frame_rate=rate, texts=texts, song_seconds=len(frames) / rate)
        with FramesWriter(path, description=about, frame_count=len(frames)) as writer:
            size = writer.chunk_frames
            for at in range(0, len(frames), size):
                writer.append(encode_frames(np.ascontiguousarray(frames[at : at + size]), size))
        opened.append(open_frames(path))
        return opened[-1]

    yield make
    for file in opened:
        file.close()
