"""Counting flashes on sequences whose count is known by construction, and on colours with published values."""

import colour
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from eavesong.kernels import flash
from eavesong.kernels import watch as lanes


def transitions(lights):
    """(general, red) transitions counted in each frame, for linear light (f,) grey or (f, 3)."""
    lights = np.asarray(lights, np.float32)
    lights = np.repeat(lights[:, None], 3, axis=1) if lights.ndim == 1 else lights
    state, marks = np.zeros(5, np.float32), np.zeros(4, np.int8)
    found = [int(flash.step(r, g, b, state, marks)) for r, g, b in lights]
    return np.array([[one & 1, one >> 1] for one in found])


def general(lights):
    return int(transitions(lights)[:, 0].sum())


def red(*colours):
    """Red transitions of sRGB colours written as in CSS."""
    encoded = np.array([[int(text[i : i + 2], 16) for i in (1, 3, 5)] for text in colours]) / 255
    return int(transitions(colour.models.eotf_sRGB(encoded))[:, 1].sum())


def square(changes, low=0.0, high=1.0, hold=4):
    """``changes`` steps between two levels, each level held for some frames."""
    return np.repeat([high if n % 2 else low for n in range(changes + 1)], hold)


# --- general flashes: WCAG 2.2, "general flash and red flash thresholds" ---------------------------------------------


@pytest.mark.parametrize("changes", range(9))
def test_every_change_between_a_peak_and_a_valley_is_a_transition(changes):
    assert general(square(changes)) == changes


@pytest.mark.parametrize(
    ("change", "counts"), [(0.09, False), (0.0999, False), (0.1, True), (0.1001, True), (0.11, True)]
)
def test_a_change_of_a_tenth_of_the_maximum_counts_and_less_does_not(change, counts):
    assert general(square(6, 0.3, 0.3 + change)) == (6 if counts else 0)


@pytest.mark.parametrize(("dark", "counts"), [(0.5, 6), (0.79, 6), (0.7999, 6), (0.8001, 0), (0.85, 0)])
def test_the_darker_state_has_to_be_below_four_fifths(dark, counts):
    assert general(square(6, dark, dark + 0.15)) == counts


def test_a_fall_that_starts_too_bright_counts_once_it_is_dark_enough():
    assert general([1.0, 0.88, 0.85, 0.82, 0.79, 0.5, 0.2]) == 1
    assert transitions([1.0, 0.88, 0.85, 0.82, 0.79, 0.5])[4, 0] == 1


@pytest.mark.parametrize("frames", [1, 2, 3, 5, 10])
def test_a_ramp_in_several_steps_is_one_transition(frames):
    up = np.linspace(0, 1, frames + 1)
    ramps = np.concatenate([up, up[::-1], up, up[::-1]])
    assert general(ramps) == 4


def test_ripples_below_the_threshold_do_not_cut_a_ramp_in_two():
    assert general([0, 0.3, 0.25, 0.6, 0.55, 0.9, 0.85, 0.5, 0.55, 0.1]) == 2


def test_small_steps_that_add_up_are_one_transition():
    assert general(np.arange(0, 1.0, 0.02)) == 1
    assert general(0.5 + 0.05 * np.sin(np.arange(200))) == 0


def test_a_steady_light_and_the_first_frame_count_for_nothing():
    assert general(np.full(50, 0.7)) == 0
    assert general([1.0]) == 0


@given(st.lists(st.floats(0, 1, width=32), min_size=2, max_size=60))
def test_it_counts_the_longest_alternation_of_tenths(levels):
    """Against the definition by brute force: the longest zigzag whose neighbours differ by a tenth or more."""
    levels = [0.79 * level for level in levels]  # so that every darker state is dark enough
    step = flash.STEP - 1e-6
    best = [[0, 0] for _ in levels]
    for i, here in enumerate(np.float32(levels)):
        for j in range(i):
            before = np.float32(levels[j])
            if here - before >= np.float32(step):
                best[i][1] = max(best[i][1], best[j][0] + 1)
            if before - here >= np.float32(step):
                best[i][0] = max(best[i][0], best[j][1] + 1)
    assert general(levels) == max(max(pair) for pair in best)


# --- luminance -------------------------------------------------------------------------------------------------------


def test_relative_luminance_is_that_of_srgb():
    # IEC 61966-2-1 / WCAG 2.2: 0.2126 R + 0.7152 G + 0.0722 B; checked with colour-science (its matrix has 4 digits).
    lights = np.random.default_rng(3).random((100, 3)).astype(np.float32)
    expected = colour.RGB_to_XYZ(lights, "sRGB", apply_cctf_decoding=False)[:, 1]
    assert [flash.luminance(*light) for light in lights] == pytest.approx(expected, abs=2e-4)


@pytest.mark.parametrize(("grey", "luminance"), [(89.0, 0.1), (231.1, 0.8), (243.4, 0.9)])
def test_greys_of_the_thresholds(grey, luminance):
    # IEC 61966-2-1 transfer function.
    light = np.float32(colour.models.eotf_sRGB(grey / 255))
    assert flash.luminance(light, light, light) == pytest.approx(luminance, abs=1e-3)


# --- red flashes -----------------------------------------------------------------------------------------------------


def test_chromaticity_is_cie_1976():
    lights = np.random.default_rng(4).random((100, 3)).astype(np.float32) + np.float32(0.05)
    xyz = colour.RGB_to_XYZ(lights, "sRGB", apply_cctf_decoding=False)
    expected = colour.xy_to_Luv_uv(colour.XYZ_to_xy(xyz))
    assert np.array([flash.chromaticity(*light)[:2] for light in lights]) == pytest.approx(expected, abs=5e-4)


@pytest.mark.parametrize(
    ("light", "place"),
    [((1, 0, 0), (0.4507, 0.5229)), ((1, 1, 1), (0.1978, 0.4683)), ((0, 1, 0), (0.1250, 0.5625)),
     ((0, 0, 1), (0.1754, 0.1579))],
)  # fmt: skip
def test_chromaticities_of_the_primaries(light, place):
    # CIE 1976 u'v' of the sRGB primaries (IEC 61966-2-1).
    assert flash.chromaticity(*np.float32(light))[:2] == pytest.approx(place, abs=1e-4)


@pytest.mark.parametrize(
    ("text", "ratio"), [("#CD4E4E", 0.8003), ("#3C8484", 0.0892), ("#E90D7A", 0.8040), ("#652222", 0.8027)]
)
def test_saturated_red_is_four_fifths_of_linear_light(text, ratio):
    # Colours of pse-test-media (Jordan 2025, doi 10.1007/978-3-031-93848-1_7), red_flash_patterns.
    light = colour.models.eotf_sRGB(np.array([int(text[i : i + 2], 16) for i in (1, 3, 5)]) / 255)
    assert light[0] / light.sum() == pytest.approx(ratio, abs=5e-5)
    assert flash.chromaticity(*np.float32(light))[2] == (ratio >= 0.8)


@pytest.mark.parametrize("other", ["#FFFFFF", "#FFFF00", "#00FF00", "#0000FF", "#000000"])
def test_red_against_other_colours_is_a_red_flash(other):
    # u'v' distances from red: white 0.2587, yellow 0.2486, green 0.3281, blue 0.4572; black is taken as neutral.
    assert red("#FF0000", other, "#FF0000", other) == 3


def test_the_distance_has_to_be_above_a_fifth():
    # pse-test-media: #CD4E4E with #3C8484 is 0.1947 apart and passes; with #1F8686 it is 0.2045 apart and fails.
    assert red("#CD4E4E", "#3C8484", "#CD4E4E", "#3C8484") == 0
    assert red("#CD4E4E", "#1F8686", "#CD4E4E", "#1F8686") == 3


def test_without_a_saturated_red_there_is_no_red_flash():
    assert red("#00FF00", "#0000FF", "#00FF00", "#FFFF00", "#0000FF") == 0


def test_red_that_changes_to_white_in_steps_is_one_transition():
    mixes = np.linspace(0, 1, 9)[:, None]
    lights = np.array([1.0, 0, 0]) * (1 - mixes) + mixes
    assert transitions(np.concatenate([lights, lights[::-1], lights]))[:, 1].sum() == 3


def test_red_of_equal_luminance_is_only_a_red_flash():
    # #E90D7A has luminance 0.1902, #3C8484 0.1913 (pse-test-media).
    assert red("#E90D7A", "#3C8484", "#E90D7A") == 2
    encoded = np.array([[0xE9, 0x0D, 0x7A], [0x3C, 0x84, 0x84]] * 3) / 255
    assert transitions(colour.models.eotf_sRGB(encoded))[:, 0].sum() == 0


# --- the loop over pixels and frames ---------------------------------------------------------------------------------


def watch(frames, second=40, split=None, pieces=1):
    """Counts above six, light of the display, and the state, of RGB pixels in blocks and pixel ranges."""
    n = frames.shape[1] // 3
    places = np.full((n, 4), -1, np.int64)
    places[:, :3] = np.arange(3 * n).reshape(n, 3)
    state, history = np.zeros((lanes.STATE, n), np.float32), np.zeros((second, n), np.uint8)
    overs, displays, at = [], [], 0
    for block in np.array_split(frames, pieces):
        over, display = np.zeros((2, len(block), n), np.uint8), np.zeros((len(block), 3), np.int64)
        for first, last in [(0, n)] if split is None else [(0, split), (split, n)]:
            lanes.watch(
                np.ascontiguousarray(block), places, np.zeros(n, np.int16), TABLES, state, history, at, first, last, 6,
                over, display,
            )  # fmt: skip
        at += len(block)
        overs.append(over)
        displays.append(display)
    return np.concatenate(overs, axis=1), np.concatenate(displays), state


TABLES = (np.arange(256, dtype=np.float32) / np.float32(255))[None]
MOST = lanes.MOST_GENERAL // lanes.LANES


def blink(frames, changes, at=1):
    """A grey pixel (f, 3) that changes in the frames given."""
    level = np.zeros(frames, np.uint8)
    for frame in changes:
        level[at + frame :] = 255 - level[at + frame :]
    return np.repeat(level[:, None], 3, axis=1)


def test_six_transitions_in_a_second_pass_and_seven_fail():
    # WCAG 2.2, technique G19.
    six, seven = blink(80, [0, 6, 12, 18, 24, 30]), blink(80, [0, 6, 12, 18, 24, 30, 36])
    assert not watch(six)[0].any()
    over, _, counts = watch(seven)
    assert counts[MOST, 0] == 7
    assert over[0].max() == 7


def test_the_second_is_forty_frames_of_forty_a_second():
    just_inside, just_outside = blink(80, [0, 5, 10, 15, 20, 25, 39]), blink(80, [0, 5, 10, 15, 20, 25, 40])
    assert watch(just_inside)[0].any()
    assert not watch(just_outside)[0].any()


def test_three_flashes_a_second_can_go_on_for_ever():
    # 3 Hz: a change every 6.67 frames of 40 a second, never more than six in any second.
    frames = blink(400, [int(n * 40 / 6) for n in range(58)])
    _, _, counts = watch(frames)
    assert counts[MOST, 0] == 6


def test_blocks_and_ranges_of_pixels_change_nothing():
    frames = np.random.default_rng(5).integers(0, 256, (97, 30), dtype=np.uint8)
    over, display, counts = watch(frames)
    for split, pieces in ((3, 1), (None, 13), (7, 97)):
        again = watch(frames, split=split, pieces=pieces)
        assert np.array_equal(over, again[0])
        assert np.array_equal(display, again[1])
        assert np.array_equal(counts, again[2])


def test_every_pixel_of_a_tile_is_counted_as_one_alone():
    """The loop over lanes against the step of a single place, on more pixels than a tile holds."""
    n = lanes.LANES + 37
    frames = np.random.default_rng(8).integers(0, 256, (60, 3 * n), dtype=np.uint8)
    frames[:, : 3 * 90] //= 16
    frames[20:40] = frames[20]
    over, display, state = watch(frames, second=100)
    light = TABLES[0][frames].reshape(60, n, 3)
    for p in range(0, n, 13):
        found = transitions(light[:, p])
        general_now, red_now = state[lanes.GENERAL // lanes.LANES, p], state[lanes.RED // lanes.LANES, p]
        assert [general_now, red_now] == found.sum(axis=0).tolist()
        above = np.cumsum(found, axis=0).T
        assert np.array_equal(over[:, :, p], np.where(above > 6, above, 0))
    assert np.array_equal(display, np.trunc(light * np.float32(flash.FIXED)).astype(np.int64).sum(axis=1))


def test_a_white_channel_lights_all_three():
    places = np.array([[0, 1, 2, 3], [4, 5, 6, -1]], np.int64)
    row = np.array([[0, 0, 51, 255, 51, 0, 0]], np.uint8)
    assert flash.place_light(row[0], places, TABLES, 0, 0) == pytest.approx((1, 1, 1))
    state, display = np.zeros((lanes.STATE, 2), np.float32), np.zeros((1, 3), np.int64)
    lanes.watch(
        row, places, np.zeros(2, np.int16), TABLES, state, np.zeros((40, 2), np.uint8), 0, 0, 2, 6,
        np.zeros((2, 1, 2), np.uint8), display,
    )  # fmt: skip
    assert display[0] / flash.FIXED == pytest.approx([1.2, 1, 1], abs=1e-5)
