"""The light of frames: what props show, on frames that are known."""

import numpy as np
import pytest

from eavesong.follow.light import light_of
from eavesong.frames import open_frames
from lamps import FPS, LAMPS, WALL, house, write


def test_props_show_the_mean_of_their_pixels(tmp_path):
    frames = np.zeros((200, 3 * 54), np.uint8)
    frames[100:, 0:9] = 255  # all three lamps, whatever their colour order
    frames[100:, 9 : 9 + 51] = 102  # of the wall's 51 pixels, 17
    path = write(tmp_path / "lamps.h5", house(LAMPS + WALL), frames)
    with open_frames(path) as opened:
        light = light_of(opened)
    assert light.names == ("lamp row", "wall lights")
    assert light.colours[150] == pytest.approx(np.array([[1.0] * 3, [0.4 / 3] * 3]))
    assert light.lit[150] == pytest.approx([1.0, 1 / 3])
    assert light.drive[150] == pytest.approx((3 * 1.0 + 51 * 0.4 / 3) / 54)
    assert not light.colours[:100].any()
    wanted = (9 * 1.0 + 51 * 0.4) / 162
    assert light.change[100] == pytest.approx(wanted)
    assert np.count_nonzero(light.change) == 1
    assert light.times[100] == pytest.approx(100 / FPS)


def test_looks_are_cube_roots_weighted_by_pixels(tmp_path):
    frames = np.full((40, 9), 64, np.uint8)
    with open_frames(write(tmp_path / "still.h5", house(LAMPS), frames)) as opened:
        look = light_of(opened).looks(np.array([0.0, 1.0, 2.0]))
    assert look.shape == (2, 6)
    assert look[0] == pytest.approx([np.cbrt(64 / 255)] * 3 + [0.0] * 3, abs=1e-6)
