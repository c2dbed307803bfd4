"""Values: what frames decide, by musical time known beforehand."""

import numpy as np
import pytest

from eavesong.scene.values import WINDOW
from support import Sound, cue, even_grid, line, points, scene_on

GRID = even_grid(120, bars=8)
HOUSE = points(line(3))


def test_musical_time_at_120_beats_a_minute():
    inputs, spectra = scene_on("x", HOUSE, grid=GRID).values.inputs(np.array([0.0, 0.25, 3.0]))
    np.testing.assert_allclose(inputs["beat"], [0, 0.5, 6])
    np.testing.assert_allclose(inputs["bar"], [0, 0.125, 1.5])
    assert not spectra.any()
    assert not inputs["bass"].any()


def test_the_inputs_of_a_cue_count_from_its_span():
    placed = cue("x", HOUSE, GRID)
    values = scene_on([placed], HOUSE, grid=GRID).values
    seconds = np.array([0.0, 8.0])
    own, strength = values.inputs_of(placed, values.inputs(seconds)[0], seconds)
    np.testing.assert_allclose(own["cue_beat"], [0, 16])
    np.testing.assert_allclose(own["cue_bar"], [0, 4])
    np.testing.assert_allclose(own["cue_progress"], [0, 0.5])
    np.testing.assert_allclose(strength, 1)


def test_windows_begin_at_whole_multiples_and_hold_scalars_of_all_layers():
    scene = scene_on([cue("x * beat", HOUSE, GRID, opacity=0.5)], HOUSE, grid=GRID, signals=Sound())
    window = scene.values.window(1)
    assert window.scalars.shape[0] == window.strength.shape[1] == len(window.spectra) == WINDOW
    seconds = WINDOW / 40
    inputs, _ = scene.values.inputs(np.array([seconds]))
    assert inputs["beat"][0] == pytest.approx(2 * seconds)
    assert not window.strength.any()  # the song of sixteen seconds is over by then
    assert scene.values.window(0).strength[0, :640].tolist() == [0.5] * 640
    assert window is scene.values.window(1)
