"""Frames whose bytes are known before they are rendered."""

from dataclasses import replace

import numpy as np
import pytest

from eavesong.easing import LINEAR, parse_easing
from eavesong.language import effect_names, load_effect
from eavesong.music import BeatGrid
from eavesong.scene.timeline import Span
from support import Sound, bytes_of, cue, effect, even_grid, frames_of, line, points, reference, scattered

GRID = even_grid()


def test_a_constant_effect_gives_its_constant():
    """Full light is 255, half the light half the duty, and an sRGB colour its linear light (IEC 61966-2-1)."""
    house = points(scattered(1100))
    frames = bytes_of(effect("level = 1\ncolour = linear_rgb(1, 0.5, 0)"), house, 0, 3)
    assert (frames == [255, 128, 0]).all()
    # #ff8040: 128 decodes to 0.2158605, 64 to 0.0512695.
    coded = bytes_of(effect("level = 1\ncolour = rgb(1, 128 / 255, 64 / 255)"), house, 0, 3)
    assert (coded == [255, 55, 13]).all()
    named = bytes_of(effect("level = 1\ncolour = tint", 'tint = { default = "#ff8040" }'), house)
    assert (named == [255, 55, 13]).all()


@pytest.mark.parametrize(
    ("colour", "linear"),
    [
        # CSS Color 4, section 15.1: oklch(0.62796 0.25768 29.234) is red; WPT oklab-001: #008000.
        ("oklch(0.62796, 0.25768, 29.234)", (1, 0, 0)),
        ("oklch(0.51975, 0.17686, 142.495)", (0, 0.2158605, 0)),
        ("oklch(0.79269, 0.17103, 70.670)", (1, 0.37626, 0)),
        # CSS Color 4, section 7: hsl(120deg 100% 50%) is lime, hsl(39 100% 50%) about orange, grey without hue.
        ("hsl(120, 1, 0.5)", (0, 1, 0)),
        ("hsl(-240, 1, 0.5)", (0, 1, 0)),
        ("hsl(38.8235, 1, 0.5)", (1, 0.37626, 0)),
        ("hsl(77, 0, 0.5)", (0.2140411, 0.2140411, 0.2140411)),
        ("rgb(1, 165 / 255, 0)", (1, 0.37626, 0)),
    ],
)
def test_colours_of_css_color_4(colour, linear):
    """Worked out once for the show, and pixel by pixel in the loop."""
    house = points(scattered(20))
    constant = bytes_of(effect(f"level = 1\ncolour = {colour}"), house)[0]
    moving = bytes_of(effect(f"level = 1\ncolour = {colour.replace('(', '(0 * x * t + ', 1)}"), house)[0]
    assert np.abs(constant - 255 * np.array(linear)).max() < 0.6
    assert np.abs(moving - 255 * np.array(linear)).max() < 0.7


@pytest.mark.parametrize("beats", [1, 4, 8])
def test_a_sweep_stands_in_the_middle_of_the_house_at_half_its_beats(beats):
    house = points(line(101))
    what = effect(f"front = fract(beat / {beats})\nlevel = band(x, front, 0.1)\ncolour = linear_rgb(1, 1, 1)")
    half = round(40 * (beats / 2) * 0.5)  # 40 frames a second, half a second a beat
    frame = bytes_of(what, house, half)[0, :, 0].astype(int)
    assert frame.argmax() == 50
    np.testing.assert_array_equal(frame, frame[::-1])
    quarter = bytes_of(what, house, half // 2)[0, :, 0]
    assert abs(house.pixels.x[quarter.argmax()] - 0.25) <= 0.5 / 101


def test_the_house_mirrored_and_the_effect_mirrored_is_the_frame_mirrored():
    """Each pixel has the byte of its mirror image; 1 - x is rounded, hence the one."""
    places = scattered(600)
    mirrored = places * [-1, 1, 1] + [1, 0, 0]
    one = effect("level = band(x, fract(beat / 4), 0.3) * y\ncolour = palette(0.5 + x / 2)")
    other = effect("level = band(1 - x, fract(beat / 4), 0.3) * y\ncolour = palette(0.5 + (1 - x) / 2)")
    here, there = bytes_of(one, points(places), 0, 60), bytes_of(other, points(mirrored), 0, 60)
    assert np.abs(here.astype(int) - there).max() <= 1
    assert here.max() > 100


def test_left_to_right_is_right_to_left_in_the_mirror_byte_for_byte():
    """On places that are exact in binary."""
    places = np.round(scattered(300) * 256) / 256
    mirrored = places * [-1, 1, 1] + [1, 0, 0]
    one = effect("level = smoothstep(0, 1, x) * fract(beat / 4)\ncolour = linear_rgb(1, x, y)")
    other = effect("level = smoothstep(0, 1, 1 - x) * fract(beat / 4)\ncolour = linear_rgb(1, 1 - x, y)")
    np.testing.assert_array_equal(bytes_of(one, points(places), 0, 30), bytes_of(other, points(mirrored), 0, 30))


def test_at_double_tempo_the_show_is_the_same_at_half_the_times():
    what = effect(
        "level = band(x, fract(beat / 4), 0.4) + 0.3 * fract(bar) * section\n"
        "colour = hsl(360 * cue_progress, 1, 0.5) * (0.5 + section_progress / 2)"
    )
    house, slow, fast = points(scattered(200)), even_grid(120), even_grid(240)
    quick = frames_of(what, house, grid=fast).block(100, 200)
    calm = frames_of(what, house, grid=slow).block(200, 400)[::2]
    assert np.abs(quick.astype(int) - calm).max() <= 1
    assert quick.std() > 10


def test_a_song_that_slows_down_takes_the_choreography_with_it():
    """Frames at the beats of one song equal frames at the same beats of the other, wherever those fall."""
    steady = even_grid(120, bars=8)
    times = tuple(np.cumsum([0.0, *np.linspace(0.3, 1.1, 31)]).tolist())
    slowing = BeatGrid(times, steady.positions, (), times[-1] + 1.1)
    what = effect("level = fract(beat / 4 + 0.001)\ncolour = linear_rgb(1, fract(bar + 0.001), 0)")
    house = points(scattered(10))
    for beat in (0, 3, 10, 30):
        # Frames as close as a thousandth of a second.
        at_steady, at_slowing = (round(grid.time_of_beat(beat) * 240) for grid in (steady, slowing))
        one = bytes_of(what, house, at_steady, grid=steady, fps=240).astype(int)
        other = bytes_of(what, house, at_slowing, grid=slowing, fps=240).astype(int)
        assert np.abs(one - other).max() <= 1


# --- cues ------------------------------------------------------------------------------------------------------------


def test_the_later_cue_lies_over_the_earlier_one():
    house = points(scattered(30))
    red, green = (effect(f"level = 1\ncolour = linear_rgb({rgb})") for rgb in ("1, 0, 0", "0, 1, 0"))
    stack = [cue(red, house, GRID), cue(green, house, GRID, opacity=0.25)]
    assert (bytes_of(stack, house) == [191, 64, 0]).all()
    assert (bytes_of(stack[::-1], house) == [255, 0, 0]).all()


def test_where_a_cue_has_no_weight_the_house_stays_as_it_was():
    house = points(scattered(30))
    half = (np.arange(30) < 15).astype(np.float32)
    frame = bytes_of("1", house, weight=half)[0]
    assert (frame[:15] == 255).all()
    assert (frame[15:] == 0).all()


@pytest.mark.parametrize(
    ("mode", "byte"),
    [
        ("multiply", 0.15),
        ("screen", 0.7),
        ("darken", 0.25),
        ("lighten", 0.6),
        ("plus-lighter", 0.85),
        ("difference", 0.35),
    ],
)
def test_blend_modes_of_cues(mode, byte):
    """W3C Compositing and Blending, on 0.25 below 0.6."""
    house = points(scattered(5))
    over = effect("level = 1\ncolour = linear_rgb(0.6, 0.6, 0.6)")
    stack = [cue("0.25", house, GRID), cue(over, house, GRID, blend=mode)]
    assert np.abs(bytes_of(stack, house) - 255 * byte).max() <= 0.55


def test_a_fade_is_the_share_of_the_way():
    """From second 1 to 3 with a second of fade-in: half on at 1.5 s, all on at 2 s, off before and after."""
    house = points(scattered(5))
    span = Span(1.0, 3.0, 1.0, 0.0, LINEAR, parse_easing("linear"), False)
    frames = bytes_of("1", house, 0, 140, spans=(span,))[:, 0, 0]
    assert frames[[39, 40, 60, 80, 119, 120, 139]].tolist() == [0, 0, 128, 255, 255, 0, 0]


def test_cue_beats_count_from_the_beginning_of_each_span():
    house = points(scattered(5))
    spans = (Span(2.0, 4.0, 0.0, 0.0, LINEAR, LINEAR, True), Span(5.0, 9.0, 0.0, 0.0, LINEAR, LINEAR, True))
    what = effect("level = 1\ncolour = linear_rgb(cue_beat / 8, cue_bar / 2, cue_progress)")
    frames = bytes_of(what, house, 0, 400, spans=spans)[:, 0].astype(int)
    assert frames[80].tolist() == [0, 0, 0]
    assert frames[120].tolist() == [64, 64, 128]  # a second in: two beats of eight, half a bar, half the span
    assert frames[240].tolist() == [64, 64, 64]  # the same in the second span, which lasts twice as long


# --- the whole chain -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", effect_names())
def test_effects_that_ship_agree_with_the_reference(name):
    """Bytes from the float32 loop against light in float64 numpy; a jump may fall to the other side."""
    house = points({"across": line(80), "up": line(80, axis=1), "cloud": scattered(200)}, size=(8, 4, 3))
    palette = ((0.0, (1.0, 0.6, 0.1)), (1.0, (0.1, 0.4, 1.0)))
    below = [cue("1", house, GRID)] if name == "hush" else []  # which only darkens
    cues = [*below, cue(load_effect(name), house, GRID, opacity=0.9, palette=palette)]
    numbers = 7 + 41 * np.arange(30)
    frames = frames_of(cues, house, grid=GRID, signals=Sound())
    got = np.concatenate([frames.block(int(number), 1) for number in numbers]).reshape(30, -1, 3)
    wanted = 255 * reference(cues, house, numbers / 40, Sound())
    assert (np.abs(got - wanted) <= 0.6).mean() > 0.999
    assert wanted.max() > (5 if below else 20)


@pytest.mark.parametrize(
    "level",
    ["1 / (x - x)", "sqrt(-x - 1)", "pow(0 * x, 0)", "log(0 * t)", "1e30 * 1e30 * x * t * 1e30", "t * 1e30 - x * 1e30",
     "(x * t * 1e30) ** 4 - (y * t * 1e30) ** 4", "tan(pi / 2 * (1 + 0 * x * t))", "inversesqrt(0 * x)",
     "hash(x * t * 1e30 * 1e30)", "noise(x * t * 1e30 * 1e30, t)", "x % (y - y)", "acos(9 * x + t)",
     "spectrum((t * 1e30) ** 30 - (t * 1e30) ** 31)", "(t * 1e30) * (t * 1e30) * x", "(x * 1e30) * (x * 1e30) * t",
     "smoothstep(x, x, t)", "band(x, t, 0) / 0"],
)  # fmt: skip
def test_whatever_an_effect_works_out_the_frame_is_a_frame(level, recwarn):
    """Not a number, or past all numbers: light is held within 0 and 1, and nobody is told."""
    house = points(scattered(50))
    what = effect(f"a = {level}\nlevel = a\ncolour = mix(palette(a), hsl(a, a, a) + oklch(a, a, a) + rgb(a, a, a), a)")
    frames = [frames_of(what, house, signals=Sound()).block(100, 5) for _ in range(2)]
    np.testing.assert_array_equal(*frames)
    assert not [warning for warning in recwarn if issubclass(warning.category, RuntimeWarning)]


def test_pixels_without_a_place_on_the_wire_still_have_a_colour():
    """A lone pixel has no footprint; a house of one pixel has a middle."""
    lone = points([[0.5, 0.5, 0.5]])
    assert bytes_of("box(x, 0.5, 0.1) * edge(u, 0.2)", lone).tolist() == [[[255, 255, 255]]]


def test_a_house_in_the_dark():
    house = points(scattered(40))
    assert not frames_of([], house).block(0, 3).any()
    assert not frames_of([cue("1", house, GRID, opacity=0.0)], house).block(0, 3).any()
    assert not frames_of([replace(cue("1", house, GRID), spans=())], house).block(0, 3).any()
