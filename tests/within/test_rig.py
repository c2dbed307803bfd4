"""A house as what its bytes do."""

import numpy as np
import pytest

from eavesong.layout import load_layout
from eavesong.within.rig import rig_of
from powered import LINE


@pytest.fixture
def rig_with(tmp_path):
    def make(output: str = ""):
        path = tmp_path / "house.toml"
        path.write_text(LINE.replace("number = 1", f"number = 1\n{output}"))
        return rig_of(load_layout(path))

    return make


def test_full_white_is_three_times_20_milliamperes_and_the_chip(rig_with):
    """The rule of thumb: 3 x 20 mA, and 1 mA for the chip (from memory)."""
    np.testing.assert_allclose(rig_with().full, 0.061, rtol=1e-5)


def test_channels_draw_what_their_pixels_do(rig_with):
    rig = rig_with('order = "GRB"')
    assert rig.places[0].tolist() == [1, 0, 2, -1]
    assert rig.channel_amperes().sum() * 255 + rig.idle.sum() == pytest.approx(rig.full.sum(), rel=1e-5)


def test_fewer_colours_than_four_have_no_white(rig_with):
    assert (rig_with().places[:, 3] == -1).all()
    assert (rig_with('order = "RGBW"').places[:, 3] == 4 * np.arange(100) + 3).all()


@pytest.mark.parametrize("gamma", [1.0, 2.2])
def test_light_is_the_duty_to_the_power_of_one_over_gamma(rig_with, gamma):
    """duty = light ** gamma, as a pixel of such a gamma asks for it."""
    light = rig_with(f"gamma = {gamma}").tables[0].astype(np.float64)
    np.testing.assert_allclose(light**gamma, np.arange(256) / 255, atol=1e-6)
