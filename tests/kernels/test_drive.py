"""From linear light to bytes: brightness, gamma, colour orders, and strings anywhere among the tiles."""

import itertools
from dataclasses import replace

import numpy as np
import pytest

from eavesong.kernels.exact import TILE
from eavesong.light import LEVELS, drive_curve
from support import effect, frames_of, points, scattered

LIGHT = effect("level = 1\ncolour = linear_rgb(x, y, z)")
"""Every pixel shows its place: red x, green y, blue z, in linear light."""

ORDERS = ["".join(order) for order in itertools.permutations("RGB")]
WHITE_ORDERS = [order[:at] + "W" + order[at:] for order in ORDERS for at in (0, 1, 3)] + ["".join("GRWB")]


def patched(layout, *, order="RGB", start=None, **changes):
    """``layout`` with its pixels one after the other from channel ``start``, all in one order."""
    patch, width, count = layout.patch, len(order), layout.pixel_count
    starts = width * np.arange(count) if start is None else np.asarray(start)
    changes = {
        "channel_count": int(starts.max()) + width,
        "channel_start": starts.astype(np.int64),
        "channel_width": np.full(count, width, np.int8),
        "orders": (order,),
    } | {key: value if np.ndim(value) == 0 else np.asarray(value) for key, value in changes.items()}
    for key in ("brightness", "gamma"):
        if key in changes:
            changes[key] = np.broadcast_to(np.float32(changes[key]), count)
    return replace(layout, patch=replace(patch, **changes))


def driven(layout):
    return frames_of(LIGHT, layout).block(0, 1)[0]


def light_of(layout):
    """(pixels, 3) in steps of LEVELS, as float64 0..1."""
    light = np.stack([layout.pixels.x, layout.pixels.y, layout.pixels.z], axis=1).astype(np.float64)
    return np.floor(light * (LEVELS - 1) + 0.5) / (LEVELS - 1)


def duty(light, brightness=1.0, gamma=1.0):
    return np.floor(255 * brightness * light**gamma + 0.5).astype(np.uint8)


def test_duty_is_in_proportion_to_light():
    """Half the light is half the time on; at most half a step of 255 off, and half a step of 4,095 before it."""
    layout = points(scattered(500))
    light = np.stack([layout.pixels.x, layout.pixels.y, layout.pixels.z], axis=1)
    off = np.abs(driven(layout).reshape(-1, 3) - 255.0 * light)
    assert off.max() <= 0.5 + 255 / 8190 + 1e-4


def test_dark_is_0_and_full_is_255():
    ends = points([[0, 0, 0], [1, 1, 1], [0, 1, 0]])
    assert driven(ends).tolist() == [0, 0, 0, 255, 255, 255, 0, 255, 0]


@pytest.mark.parametrize(("brightness", "gamma"), [(1, 1), (0.5, 1), (1, 2.2), (0.3, 2.8), (0, 1), (1, 0.5)])
def test_brightness_and_gamma(brightness, gamma):
    layout = patched(points(scattered(300)), brightness=brightness, gamma=gamma)
    np.testing.assert_array_equal(
        driven(layout).reshape(-1, 3), duty(light_of(layout), np.float32(brightness), np.float32(gamma))
    )


@pytest.mark.parametrize(("brightness", "gamma"), [(1.0, 1.0), (0.7, 2.2), (0.0, 1.0)])
def test_a_drive_curve_rises_from_0_to_its_brightness(brightness, gamma):
    curve = drive_curve(brightness, gamma)
    assert curve[0] == 0
    assert curve[-1] == np.floor(255 * brightness + 0.5)
    assert (np.diff(curve) >= 0).all()
    assert curve.shape == (LEVELS,)


@pytest.mark.parametrize("order", ORDERS)
def test_three_channel_orders(order):
    layout = patched(points(scattered(50)), order=order)
    wanted = duty(light_of(layout))[:, ["RGB".index(letter) for letter in order]]
    np.testing.assert_array_equal(driven(layout).reshape(-1, 3), wanted)


@pytest.mark.parametrize("order", WHITE_ORDERS)
def test_white_takes_what_the_three_have_in_common(order):
    """Common practice for pixels with a white diode."""
    layout = patched(points(scattered(50)), order=order, brightness=0.9)
    light = light_of(layout)
    white = light.min(axis=1, keepdims=True)
    channels = duty(np.concatenate([light - white, white], axis=1), np.float32(0.9))
    wanted = channels[:, ["RGBW".index(letter) for letter in order]]
    off = driven(layout).reshape(-1, 4).astype(int) - wanted
    assert np.abs(off).max() <= 1  # light - white may lie on a step's border
    assert (off == 0).mean() > 0.99


def mixed_house(count=2 * TILE + 300, gap=5):
    """Strings of every length, order and drive, ``gap`` channels apart: single pixels, strings over three tiles."""
    layout = points(scattered(count))
    chance = np.random.default_rng(8)
    lengths = [1, 1, 2, TILE - 5, 1, 3, TILE + 1, 1]
    lengths.append(count - sum(lengths))
    string = np.repeat(np.arange(len(lengths)), lengths)
    orders = ("GRB", "RGBW", "BGR")
    order = chance.integers(0, 3, len(lengths))[string].astype(np.int16)
    width = np.array([len(orders[kind]) for kind in order])
    gaps = np.where(np.diff(string, prepend=-1) > 0, gap, 0)
    start = np.cumsum(width + gaps) - width
    patch = replace(
        layout.patch,
        channel_count=int(start[-1] + width[-1] + 5),
        channel_start=start.astype(np.int64),
        channel_width=width.astype(np.int8),
        orders=orders,
        order=order,
        brightness=chance.choice(np.float32([1, 0.5]), len(lengths))[string],
        gamma=chance.choice(np.float32([1, 2.2]), len(lengths))[string],
    )
    return replace(layout, patch=patch)


def expected_bytes(layout):
    """The frame of LIGHT, pixel by pixel in plain Python."""
    patch, light = layout.patch, light_of(layout)
    out = np.zeros(patch.channel_count, np.uint8)
    for pixel in range(layout.pixel_count):
        order = patch.orders[patch.order[pixel]]
        white = light[pixel].min() if "W" in order else 0.0
        parts = dict(zip("RGBW", [*(light[pixel] - white), white], strict=True))
        at = patch.channel_start[pixel]
        for letter in order:
            out[at] = duty(parts[letter], patch.brightness[pixel], patch.gamma[pixel])
            at += 1
    return out


@pytest.mark.parametrize("gap", [0, 5])
def test_strings_that_begin_and_end_inside_tiles(gap):
    """Also where one follows the other without a gap, and only its order, brightness or gamma is another."""
    layout = mixed_house(gap=gap)
    got, wanted = driven(layout), expected_bytes(layout)
    off = np.abs(got.astype(int) - wanted)
    assert off.max() <= 1
    assert (off == 0).mean() > 0.99


def test_nothing_is_written_outside_a_strings_channels():
    """Bytes set before stay as they were between strings, behind the last, and in rows before and after."""
    layout = mixed_house()
    guard = np.full((5, layout.patch.channel_count), 171, np.uint8)
    frames_of(LIGHT, layout).fill(guard[1:4], 0)
    used = np.zeros(layout.patch.channel_count, bool)
    for start, width in zip(layout.patch.channel_start, layout.patch.channel_width, strict=True):
        used[start : start + width] = True
    assert (~used).sum() > 40
    assert (guard[1:4, ~used] == 171).all()
    assert (guard[[0, 4]] == 171).all()
    np.testing.assert_array_equal(guard[1:4, used], np.repeat(driven(layout)[None, used], 3, axis=0))


@pytest.mark.parametrize("order", ["RGB", "GRBW"])
@pytest.mark.parametrize("count", [1, 2, TILE - 1, TILE, TILE + 1])
def test_the_last_pixel_of_a_frame_writes_no_byte_too_many(count, order):
    layout = patched(points(scattered(count)), order=order)
    room = np.full(len(order) * count + 64, 171, np.uint8)
    frames_of(LIGHT, layout).fill(room[: len(order) * count].reshape(1, -1), 0)
    assert (room[-64:] == 171).all()
    np.testing.assert_array_equal(room[:-64], driven(layout))


def test_channels_that_run_backwards_through_the_pixels():
    """A chain wired from its far end: pixel order and channel order differ."""
    count = 40
    layout = patched(points(scattered(count)), start=3 * np.arange(count)[::-1])
    np.testing.assert_array_equal(driven(layout).reshape(-1, 3)[::-1], duty(light_of(layout)))
