"""Frames that are known."""

import pytest

from lamps import LAMPS, WALL, house, known_frames, write, write_click


@pytest.fixture(scope="session")
def three_lamps(tmp_path_factory):
    """A folder with ``lamps.h5`` (8 s at 20 frames a second) and ``click.wav``; to be read only."""
    folder = tmp_path_factory.mktemp("lamps")
    write(folder / "lamps.h5", house(LAMPS + WALL), known_frames())
    write_click(folder / "click.wav", [])
    return folder
