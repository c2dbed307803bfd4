"""Counting flashes on sequences whose count is known by construction, and on colours with published values."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import flashing
from eavesong.kernels import flash, thresholds
from eavesong.kernels.eyes import Eyes, Follow, Regions, SeenPixels

TABLES = (np.arange(256, dtype=np.float32) / np.float32(255))[None]
GENERAL, RED = 0, 1


def most(lights, kind):
    """The most changes that follow one another in linear light (f,) grey or (f, 3): the lowest limit that passes."""
    lights = np.asarray(lights, np.float32)
    lights = np.repeat(lights[:, None], 3, axis=1) if lights.ndim == 1 else lights
    rows, light = np.zeros((len(lights), 1), np.uint8), np.ascontiguousarray(lights[:, :, None])
    one, pixels = Follow.of(1, len(lights)), SeenPixels(np.zeros((0, 4), np.int64), np.zeros(0, np.int16), TABLES)
    limits = range(len(lights) + 1)
    return next(k for k in limits if not one.on(rows, light, 0, pixels, k, lambda work, _: work(0), 1)[0][kind].any())


def general(lights):
    return most(lights, GENERAL)


def linear(*colours):
    """Linear light of sRGB colours written as in CSS."""
    import colour

    return colour.models.eotf_sRGB(np.array([[int(text[i : i + 2], 16) for i in (1, 3, 5)] for text in colours]) / 255)


def red(*colours):
    """Red changes of sRGB colours written as in CSS."""
    return most(linear(*colours), RED)


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
    assert [general([1.0, 0.88, 0.85, 0.82, 0.79][:count]) for count in (4, 5)] == [0, 1]


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
    step = thresholds.STEP - 1e-6
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
    import colour

    # IEC 61966-2-1 / WCAG 2.2: 0.2126 R + 0.7152 G + 0.0722 B; checked with colour-science (its matrix has 4 digits).
    lights = np.random.default_rng(3).random((100, 3)).astype(np.float32)
    expected = colour.RGB_to_XYZ(lights, "sRGB", apply_cctf_decoding=False)[:, 1]
    assert [flash.luminance(*light) for light in lights] == pytest.approx(expected, abs=2e-4)


@pytest.mark.parametrize(("grey", "luminance"), [(89.0, 0.1), (231.1, 0.8), (243.4, 0.9)])
def test_greys_of_the_thresholds(grey, luminance):
    import colour

    # IEC 61966-2-1 transfer function.
    light = np.float32(colour.models.eotf_sRGB(grey / 255))
    assert flash.luminance(light, light, light) == pytest.approx(luminance, abs=1e-3)


# --- red flashes -----------------------------------------------------------------------------------------------------


def test_chromaticity_is_cie_1976():
    import colour

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
    light = linear(text)[0]
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
    assert most(np.concatenate([lights, lights[::-1], lights]), RED) == 3


@pytest.mark.parametrize("first", ["#00FF00", "#0000FF", "#FF0000", "#FFFFFF", "#000000"])
def test_no_colour_before_hides_a_red_flash(first):
    """Orange-red and violet in turn, a second after a colour farther from red, or a purer red.

    Linear (1, 0.235, 0) has 0.81 of its light in red; violet is 0.27 away from it in u'v' and no saturated red
    (WCAG 2.2: 0.8 and 0.2).
    """
    orange, violet = np.array([1, 0.235, 0]), np.array([0.5, 0, 1])
    (_, _), uv, reds = flashing.looks(np.array([orange, violet]))
    assert np.hypot(*(uv[0] - uv[1])) == pytest.approx(0.274, abs=1e-3)
    assert reds.tolist() == [True, False]
    turns = np.repeat(np.array([orange, violet] * 7), 3, axis=0)
    film = np.concatenate([np.repeat(linear(first), 40, axis=0), turns])
    assert most(film, RED) >= most(turns, RED) == 13


def test_no_two_saturated_reds_are_a_red_flash_apart():
    """u'v' of mixtures lie on the straight lines between their parts: the farthest reds are corners of the triangle."""
    corners = np.array([[1.0, 0, 0], [0.8, 0.2, 0], [0.8, 0, 0.2]])
    uv = np.array([flash.chromaticity(*np.float32(light))[:2] for light in corners])
    assert max(np.hypot(*(a - b)) for a in uv for b in uv) < 0.15


def test_red_of_equal_luminance_is_only_a_red_flash():
    # #E90D7A has luminance 0.1902, #3C8484 0.1913 (pse-test-media).
    assert red("#E90D7A", "#3C8484", "#E90D7A") == 2
    assert general(linear(*["#E90D7A", "#3C8484"] * 3)) == 0


# --- the loop over pixels and frames ---------------------------------------------------------------------------------


def watch(frames, second=40, pieces=1, ways=1):
    """Counts above six (2, f, n) of RGB pixels, and the eyes after them, in blocks and parts of the work."""
    n = frames.shape[1] // 3
    places = np.full((n, 4), -1, np.int64)
    places[:, :3] = np.arange(3 * n).reshape(n, 3)
    eyes = Eyes.opened(SeenPixels(places, np.zeros(n, np.int16), TABLES), together(n), 3 * n, second, thresholds.LIMIT)
    overs = []
    for block in np.array_split(frames, pieces):
        seen, eyes = eyes.on(np.ascontiguousarray(block), ways=ways)
        overs.append(np.concatenate([seen.pixels, seen.parts], axis=2))
    return np.concatenate(overs, axis=1), eyes


def together(n):
    """The first half of n pixels as the one part."""
    cell = (np.arange(n) >= n // 2).astype(np.int32)
    one = np.ones(1)
    return Regions(cell, np.ones(n), np.array([0, 1], np.int32), np.zeros(1, np.int32), one * max(1, n // 2))


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
    over, eyes = watch(seven)
    assert eyes.most == 7
    assert over[0].max() == 7


def test_the_second_is_forty_frames_of_forty_a_second():
    just_inside, just_outside = blink(80, [0, 5, 10, 15, 20, 25, 39]), blink(80, [0, 5, 10, 15, 20, 25, 40])
    assert watch(just_inside)[0].any()
    assert not watch(just_outside)[0].any()


def test_three_flashes_a_second_can_go_on_for_ever():
    # 3 Hz: a change every 6.67 frames of 40 a second, never more than six in any second.
    frames = blink(400, [int(n * 40 / 6) for n in range(58)])
    assert watch(frames)[1].most == 6


def test_blocks_and_parts_of_the_work_change_nothing():
    frames = np.random.default_rng(5).integers(0, 256, (97, 3 * 700), dtype=np.uint8)
    over, eyes = watch(frames)
    assert over.any()
    for pieces, ways in ((1, 2), (13, 1), (97, 3)):
        again, after = watch(frames, pieces=pieces, ways=ways)
        assert np.array_equal(over, again)
        assert np.array_equal(eyes.of_parts.state, after.of_parts.state)


def test_a_white_channel_lights_all_three():
    places = np.array([[0, 1, 2, 3], [4, 5, 6, -1]], np.int64)
    row = np.array([[0, 0, 51, 255, 51, 0, 0]], np.uint8)
    assert flash.place_light(row[0], places, TABLES, 0, 0) == pytest.approx((1, 1, 1))
    eyes = Eyes.opened(SeenPixels(places, np.zeros(2, np.int16), TABLES), together(2), 7, 40, thresholds.LIMIT)
    _, after = eyes.on(row)
    assert after.light[0, :, 0] == pytest.approx([0.6, 0.5, 0.5], abs=1e-6)  # the display's mean
    assert after.light[0, :, 1] == pytest.approx([1, 1, 1], abs=1e-6)


# --- against the count by brute force --------------------------------------------------------------------------------

COLOURS = [
    (255, 0, 0), (255, 45, 0), (230, 30, 60), (205, 78, 78), (101, 34, 34), (140, 0, 0), (60, 0, 0), (30, 0, 0),
    (255, 128, 0), (255, 255, 0), (0, 255, 0), (0, 60, 0), (0, 255, 255), (60, 132, 132), (31, 134, 134), (0, 0, 255),
    (115, 13, 115), (128, 0, 255), (255, 0, 255), (255, 255, 255), (231, 231, 231), (128, 128, 128), (89, 89, 89),
    (0, 0, 0),
]  # fmt: skip
"""24 colours: reds that are pure, hardly saturated, dim and almost black; what lies near 0.2 in u'v'; greys."""


def counted_alike(frames, second):
    """Whether the verdict on every frame of every pixel (f, n, 3) is that of the count by brute force."""
    seen, _ = watch(frames.reshape(len(frames), -1), second)
    exact = flashing.changes(TABLES[0][frames].astype(np.float64), second)
    assert np.array_equal(seen[:, :, : frames.shape[1]] > 0, exact > flashing.LIMIT)
    return exact


@pytest.mark.parametrize("rate", [3.0, 3.5, 6.5])
@pytest.mark.parametrize("before", [None, (0, 255, 0), (255, 0, 0)])
def test_all_pairs_of_24_colours_are_counted_as_by_brute_force(rate, before):
    """552 films a case: one colour and another in turn, after a quarter of a second of something else, or nothing."""
    second, pairs = 20, [(a, b) for a in COLOURS for b in COLOURS if a != b]
    turn = (np.arange(2 * second) * 2 * rate / second).astype(int) % 2
    frames = np.moveaxis(np.array(pairs)[:, turn], 0, 1).astype(np.uint8)
    if before is not None:
        frames = np.concatenate([np.broadcast_to(np.uint8(before), (5, *frames.shape[1:])), frames])
    exact = counted_alike(frames, second)
    assert (exact > flashing.LIMIT).any() == (rate > 3)


@settings(max_examples=12, deadline=None)
@given(
    seed=st.integers(0, 2**32 - 1), kind=st.sampled_from(["few colours", "reds", "ramps", "bright", "red ramps"]),
    second=st.sampled_from([8, 12, 25]), busy=st.floats(0.1, 0.9),
)  # fmt: skip
def test_random_films_are_counted_as_by_brute_force(seed, kind, second, busy):
    counted_alike(random_film(np.random.default_rng(seed), kind, 3 * second, 40, busy), second)


def random_film(random, kind, frames, pixels, busy):
    """Bytes (f, n, 3): a few colours that jump at random, or colours that drift."""
    if "ramps" in kind:
        start = np.array([200, 40, 40]) if "red" in kind else np.array([128])
        way = random.normal(0, 60 * busy, (frames, pixels, len(start))).cumsum(axis=0) + start
        return np.broadcast_to(np.abs(way % 510 - 255), (frames, pixels, 3)).astype(np.uint8)
    colours = random.integers(0, 256, (pixels, 4, 3))
    if kind == "reds":
        colours = colours // [1, 4, 4]
    if kind == "bright":
        colours = 256 - colours // 4 - 1
    jumps = np.where(random.random((frames, pixels)) < busy, np.arange(frames)[:, None], 0)
    chosen = np.take_along_axis(random.integers(0, 4, (frames, pixels)), np.maximum.accumulate(jumps), axis=0)
    return colours[np.arange(pixels), chosen].astype(np.uint8)


@settings(max_examples=10, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), kind=st.sampled_from(["few colours", "reds", "ramps", "red ramps"]))
def test_what_came_before_never_lowers_a_count(seed, kind):
    random = np.random.default_rng(seed)
    film, before = (random_film(random, kind, 40, 300, busy) for busy in (0.5, 0.3))
    alone, _ = watch(film.reshape(40, -1), 20)
    after, _ = watch(np.concatenate([before, film]).reshape(80, -1), 20)
    assert (after[:, 40:, :300].astype(bool) >= alone[:, :, :300].astype(bool)).all()
