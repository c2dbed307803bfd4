"""A click song and frames that follow it in ways that are known."""

import numpy as np
import pytest

from eavesong.frames import open_frames
from lamps import FPS, LAMPS, SECONDS, WALL, house, write, write_click

BEATS = np.arange(0.25, 7.5, 0.5)


@pytest.fixture(scope="session")
def followed_lamps(tmp_path_factory):
    """Frames whose lamps jump up at every click of their song and die away, beside that song."""
    folder = tmp_path_factory.mktemp("followed")
    count, channels = int(FPS * SECONDS), 3 * (len(LAMPS) + len(WALL))
    frames = np.zeros((count, channels), np.uint8)
    for beat in BEATS:
        first = round(beat * FPS)
        frames[first : first + 8, :9] = np.linspace(240, 30, 8)[: count - first, None]
    write(folder / "lamps.h5", house(LAMPS + WALL), frames)
    write_click(folder / "click.wav", BEATS)
    return folder / "lamps.h5"


@pytest.fixture
def opened(followed_lamps):
    """These frames, open."""
    with open_frames(followed_lamps) as frames:
        yield frames
