"""Following the flashes of many pixels at once: the arithmetic of ``flash.step``, worded so that it vectorises.

All values of a tile of pixels lie in one scratch array, plane after plane, so that the compiler sees that no store
meets a load. Bits are those of ``flash.step``: there is no reassociation here.
"""

from __future__ import annotations

import numpy as np
from numba import njit, types

from eavesong.kernels import flash
from eavesong.kernels.lanes import add_bits, byte_at, float_bits, floats_at, load_own, select, store, to_int
from eavesong.kernels.store import kept

LANES = 256
"""Pixels in a tile: its planes fit into the first-level cache."""

STATE = 14
"""Planes that are kept from block to block."""

(HIGH, LOW, RISING, WAITING, U, V, AWAY, IN_RED, GENERAL, RED, MOST_GENERAL, MOST_RED, NEAR, NEAREST,
 R, G, B, FOUND, GONE) = (plane * LANES for plane in range(19))  # fmt: skip
"""Where each plane begins: last peak and valley; direction of the last transition; whether a fall is still too
bright to count; u'v' of the last red or other state, its distance from red squared, whether it is red; transitions in
the last second, the most of each; frames that either has stood just below its limit, the most of those; light; what
the frame brought, and what left the last second: 1 general, 2 red, 3 both."""

PLANES = 19

WHITE, CURVE = 3 * LANES, 4 * LANES
"""Planes of the look-up of a tile, int32: channels of red, green, blue, white; where its table begins."""

_f = np.float32
ZERO, ONE, TWO, THREE = _f(0), _f(1), _f(2), _f(3)
TENTH, BRIGHT, DARK = _f(flash.STEP - 1e-6), _f(flash.BRIGHT), _f(flash.DARK)
SATURATED, RED_STEP = _f(flash.SATURATED - 1e-6), _f(flash.RED_STEP**2)
NEUTRAL_U, NEUTRAL_V, RED_U, RED_V = _f(flash.NEUTRAL_U), _f(flash.NEUTRAL_V), _f(flash.RED_U), _f(flash.RED_V)
FIXED = _f(flash.FIXED)
X_R, X_G, X_B = _f(0.4124564), _f(0.3575761), _f(0.1804375)
Y_R, Y_G, Y_B = _f(0.2126729), _f(0.7151522), _f(0.0721750)
Z_R, Z_G, Z_B = _f(0.0193339), _f(0.1191920), _f(0.9503041)
L_R, L_G, L_B = _f(0.2126), _f(0.7152), _f(0.0722)
FOUR, NINE, FIFTEEN = _f(4), _f(9), _f(15)


@njit(nogil=True, error_model="numpy", inline="never")
def _light_of_three(row, tables, where, at):
    """Light of the tile's pixels from the bytes of one frame at address ``row``."""
    for n in range(LANES):
        curve = float_bits(load_own(where, n + CURVE))
        for colour in range(3):
            byte = byte_at(row, float_bits(load_own(where, n + colour * LANES)))
            store(at, n + R + colour * LANES, load_own(tables, add_bits(curve, byte)))


@njit(nogil=True, error_model="numpy", inline="never")
def _light_of_four(row, tables, where, at):
    """The same where some of the pixels have white: it is added to the other three, 1 at most."""
    for n in range(LANES):
        curve = float_bits(load_own(where, n + CURVE))
        place = float_bits(load_own(where, n + WHITE))
        white = load_own(tables, add_bits(curve, byte_at(row, max(place, np.int32(0)))))
        white = select(place >= 0, white, ZERO)
        for colour in range(3):
            byte = byte_at(row, float_bits(load_own(where, n + colour * LANES)))
            light = load_own(tables, add_bits(curve, byte)) + white
            store(at, n + R + colour * LANES, select(light > ONE, ONE, light))


@njit(nogil=True, error_model="numpy")
def _look_up(where, places, curves, start, count):
    """Fill the tile's look-up planes; whether any of its pixels has white. Lanes beyond the last pixel repeat it."""
    any_white = False
    for n in range(LANES):
        p = start + min(n, count - 1)
        for colour in range(4):
            where[n + colour * LANES] = places[p, colour]
        where[n + CURVE] = 256 * curves[p]
        any_white = any_white or places[p, 3] >= 0
    return any_white


@njit(nogil=True, error_model="numpy", inline="never")
def _sum_light(at, count, display):
    r = g = b = np.int32(0)
    for n in range(count):
        r = add_bits(r, to_int(load_own(at, n + R) * FIXED))
        g = add_bits(g, to_int(load_own(at, n + G) * FIXED))
        b = add_bits(b, to_int(load_own(at, n + B) * FIXED))
    display[0] += r
    display[1] += g
    display[2] += b


@njit(nogil=True, error_model="numpy", inline="never")
def _general(at):
    """``flash.general_step`` on every lane."""
    for n in range(LANES):
        y = L_R * load_own(at, n + R) + L_G * load_own(at, n + G) + L_B * load_own(at, n + B)
        high, low = load_own(at, n + HIGH), load_own(at, n + LOW)
        rising, waiting = load_own(at, n + RISING), load_own(at, n + WAITING)
        high, low = select(y > high, y, high), select(y < low, y, low)
        down = (rising >= ZERO) & (high - y >= TENTH)
        up = (rising <= ZERO) & (y - low >= TENTH) & (not down)
        count = select(up & (low < BRIGHT), ONE, ZERO)
        waiting = select(down, ONE, select(up, ZERO, waiting))
        dark_now = (waiting == ONE) & (y < BRIGHT)
        store(at, n + HIGH, select(up, y, high))
        store(at, n + LOW, select(down, y, low))
        store(at, n + RISING, select(down, -ONE, select(up, ONE, rising)))
        store(at, n + WAITING, select(dark_now, ZERO, waiting))
        store(at, n + FOUND, select(dark_now, ONE, count))


@njit(nogil=True, error_model="numpy", inline="never")
def _red(at):
    """``flash.red_step`` on every lane."""
    for n in range(LANES):
        r, g, b = load_own(at, n + R), load_own(at, n + G), load_own(at, n + B)
        total = r + g + b
        x = X_R * r + X_G * g + X_B * b
        y = Y_R * r + Y_G * g + Y_B * b
        z = Z_R * r + Z_G * g + Z_B * b
        lit = total >= DARK
        share = ONE / select(lit, x + FIFTEEN * y + THREE * z, ONE)
        u, v = select(lit, FOUR * x * share, NEUTRAL_U), select(lit, NINE * y * share, NEUTRAL_V)
        red = lit & (r >= SATURATED * total)
        du, dv = u - RED_U, v - RED_V
        away = du * du + dv * dv
        last_u, last_v, last_away = load_own(at, n + U), load_own(at, n + V), load_own(at, n + AWAY)
        du, dv = u - last_u, v - last_v
        in_red = load_own(at, n + IN_RED) == ONE
        change = (du * du + dv * dv > RED_STEP) & (in_red | red)
        further = (in_red & red & (away < last_away)) | ((not in_red) & (away > last_away))
        take = change | further
        store(at, n + U, select(take, u, last_u))
        store(at, n + V, select(take, v, last_v))
        store(at, n + AWAY, select(take, away, last_away))
        becomes = select((not in_red) & red, ONE, ZERO)
        store(at, n + IN_RED, select(change, becomes, select(in_red, ONE, ZERO)))
        store(at, n + FOUND, load_own(at, n + FOUND) + select(change, TWO, ZERO))


@njit(nogil=True, error_model="numpy", inline="never")
def _count(at, near_limit):
    """Bring the counts of the last second up to date; the highest of them."""
    highest = ZERO
    for n in range(LANES):
        found, gone = load_own(at, n + FOUND), load_own(at, n + GONE)
        found_red, gone_red = select(found >= TWO, ONE, ZERO), select(gone >= TWO, ONE, ZERO)
        general = load_own(at, n + GENERAL) + (found - TWO * found_red) - (gone - TWO * gone_red)
        red = load_own(at, n + RED) + found_red - gone_red
        most, most_red = load_own(at, n + MOST_GENERAL), load_own(at, n + MOST_RED)
        near = select((general >= near_limit) | (red >= near_limit), load_own(at, n + NEAR) + ONE, ZERO)
        nearest = load_own(at, n + NEAREST)
        store(at, n + GENERAL, general)
        store(at, n + RED, red)
        store(at, n + MOST_GENERAL, select(general > most, general, most))
        store(at, n + MOST_RED, select(red > most_red, red, most_red))
        store(at, n + NEAR, near)
        store(at, n + NEAREST, select(near > nearest, near, nearest))
    for n in range(2 * LANES):
        value = load_own(at, n + GENERAL)
        highest = select(value > highest, value, highest)
    return highest


@njit(nogil=True, error_model="numpy", inline="never")
def _begin(at):
    """Set the state of every lane to its first light."""
    for n in range(LANES):
        r, g, b = load_own(at, n + R), load_own(at, n + G), load_own(at, n + B)
        y = L_R * r + L_G * g + L_B * b
        u, v, red = flash.chromaticity(r, g, b)
        du, dv = u - RED_U, v - RED_V
        store(at, n + HIGH, y)
        store(at, n + LOW, y)
        store(at, n + U, u)
        store(at, n + V, v)
        store(at, n + AWAY, du * du + dv * dv)
        store(at, n + IN_RED, ONE if red else ZERO)


def _watch(frames, places, curves, tables, state, history, at, first, last, limit, over, display):
    """Follow the pixels ``first`` to ``last`` through a block of frames.

    frames: uint8 (f, channels). places: int64 (n, 4): channel of red, green, blue, white or -1. curves: int16 (n,):
    row of tables, float32 (k, 256): light of each byte. state: float32 (STATE, n), zeros at first. history: uint8
    (frames of a second, n), zeros at first. at: number of the first frame; the state begins with frame 0. over:
    uint8 (2, f, n), zeros: counts above the limit. display: int64 (f, 3): the light of all pixels is added to it.
    """
    scratch = np.zeros(PLANES * LANES, np.float32)
    planes = floats_at(np.int64(scratch.ctypes.data))
    where = np.zeros(5 * LANES, np.int32)
    look_up, table = floats_at(np.int64(where.ctypes.data)), floats_at(np.int64(tables.ctypes.data))
    near_limit = np.float32(limit - 1)
    for start in range(first, last, LANES):
        count = min(LANES, last - start)
        scratch[:] = 0
        for plane in range(STATE):
            scratch[plane * LANES : plane * LANES + count] = state[plane, start : start + count]
        white = _look_up(where, places, curves, start, count)
        slot = at % history.shape[0]
        for f in range(frames.shape[0]):
            row = np.int64(frames[f].ctypes.data)
            if white:
                _light_of_four(row, table, look_up, planes)
            else:
                _light_of_three(row, table, look_up, planes)
            _sum_light(planes, count, display[f])
            if at + f == 0:
                _begin(planes)
            _general(planes)
            _red(planes)
            gone = history[slot, start : start + count]
            for n in range(count):
                scratch[GONE + n] = gone[n]
                gone[n] = np.uint8(scratch[FOUND + n])
            if _count(planes, near_limit) > limit:
                _note(scratch, over, f, start, count, limit)
            slot += 1
            if slot == history.shape[0]:
                slot = 0
        for plane in range(STATE):
            state[plane, start : start + count] = scratch[plane * LANES : plane * LANES + count]
    where[0] = 0  # a last use, so that the array outlives the pointer to it


@njit(nogil=True, error_model="numpy")
def _note(scratch, over, f, start, count, limit):
    for n in range(count):
        for kind in range(2):
            now = scratch[GENERAL + kind * LANES + n]
            if now > limit:
                over[kind, f, start + n] = np.uint8(min(now, np.float32(255)))


_I64, _F32, _U8 = types.int64, types.float32, types.uint8
watch = kept(
    _watch,
    types.void(
        _U8[:, ::1], _I64[:, ::1], types.int16[::1], _F32[:, ::1], _F32[:, ::1], _U8[:, ::1], _I64, _I64, _I64,
        _I64, _U8[:, :, ::1], _I64[:, ::1],
    ),
    nogil=True,
    error_model="numpy",
)  # fmt: skip
