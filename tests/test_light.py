"""One law of light, used by all that drives pixels or tells from bytes what is seen."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from eavesong import light
from eavesong.layout import load_layout
from eavesong.playback.identify import lit
from eavesong.playback.source import one_colour
from eavesong.within.rig import rig_of
from support import bytes_of as drawn

HOUSE = """
title = "House"
[[prop]]
name = "line"
shape = "line"
at = [0, 0, 0]
to = [1, 0, 0]
pixels = 3
[[controller]]
name = "box"
[[controller.output]]
number = 1
brightness = 0.5
gamma = 2.2
chain = ["line"]
"""

by_hand = round(255 * 0.5 * 0.5**2.2)
"""255 * brightness * light ** gamma at half light, half brightness and gamma 2.2: 28."""


@pytest.fixture
def house(tmp_path):
    path = tmp_path / "house.toml"
    path.write_text(HOUSE)
    return load_layout(path)


def test_frames_idle_looks_and_identifying_drive_pixels_alike(house):
    assert by_hand == 28
    assert set(drawn("0.5", house).reshape(-1).tolist()) == {28}
    from eavesong.frames import describe

    patch = describe(house, title="", frame_rate=40).patch
    assert set(one_colour(patch, 9, (1.0, 1.0, 1.0), 0.5).tolist()) == {28}
    frame = lit(house.patch, range(3), 0.25).reshape(3, 3)
    assert frame.max() == round(255 * 0.5 * 0.25**2.2) == 6


@given(st.floats(0, 1), st.floats(0.1, 4))
def test_what_is_asked_for_is_what_is_seen(asked, gamma):
    assert light.light_of(light.duty_of(asked, 1.0, gamma), gamma) == pytest.approx(asked, abs=1e-9)


@given(st.floats(0, 1), st.floats(0, 1), st.floats(0.1, 4))
def test_brightness_is_a_share_of_drive_and_so_of_current(asked, brightness, gamma):
    whole = light.duty_of(asked, 1.0, gamma)
    assert light.duty_of(asked, brightness, gamma) == pytest.approx(brightness * whole)


def test_a_larger_gamma_lowers_the_low_end():
    curves = [light.drive_curve(1.0, gamma).astype(int) for gamma in (1.0, 1.8, 2.2)]
    assert (np.diff(curves, axis=0) <= 0).all()
    assert {(int(curve[0]), int(curve[-1])) for curve in curves} == {(0, 255)}


@pytest.mark.parametrize("gamma", [1.0, 1.8, 2.2, 2.8])
def test_what_each_byte_gives_is_the_laws_inverse(gamma):
    given_light = light.light_table(gamma)
    np.testing.assert_array_equal(light.bytes_of(given_light, 1.0, gamma), np.arange(256))


def test_a_house_at_part_brightness_is_measured_against_its_own_brightest(house):
    table = rig_of(house).tables[0]
    assert table[round(255 * 0.5)] == pytest.approx(1.0, abs=0.01)
    assert table[28] == pytest.approx(light.light_of(28 / 255, 2.2) / light.light_of(0.5, 2.2), rel=1e-5)
    np.testing.assert_allclose(light.light_tables([(0.5, 2.2)])[0], table, rtol=1e-5)
