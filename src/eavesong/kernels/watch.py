"""Following the flashes of many places at once: a count that is never too low, worded so that it vectorises, and a
close look (``close.latest_general``, ``close.latest_red``) at any second in which that count is above the limit.

The quick count cuts what a place does into changes from where the last one ended, each as short as it can be.
Changes of luminance that follow one another the same way count as the latest of them; of red, every change counts.
Each change of the close look holds one of those, so a second that the quick count lets pass does pass, wherever
the following began.

All values of a tile of places lie in one scratch array, plane after plane, so that the compiler sees that no store
meets a load.
"""

from __future__ import annotations

import numpy as np

from eavesong.kernels import thresholds
from eavesong.kernels.close import in_list, latest_general, latest_red, listed
from eavesong.kernels.lanes import add_bits, byte_own, floats_at, inner, load_own, put_byte, select, store, to_int
from eavesong.kernels.lights import light_of_four, light_of_three, look_up
from eavesong.kernels.planes import (
    AGAIN,
    ALONG,
    AWAY,
    BEGUN,
    BOTTOM,
    CLOSE,
    FOUND,
    GENERAL,
    GONE,
    HIGH,
    IS_RED,
    LANES,
    LATEST,
    LOOK,
    LOW,
    MOST_GENERAL,
    MOST_RED,
    NEAR,
    NEAREST,
    PLANES,
    REACH,
    RED,
    STATE,
    SURE_GENERAL,
    SURE_RED,
    TOLD,
    TOP,
    WAY,
    WAYS,
    B,
    G,
    R,
)

_f = np.float32
ZERO, ONE, TWO, THREE = _f(0), _f(1), _f(2), _f(3)
NONE = np.int32(0)
TENTH, BRIGHT, DARK = _f(thresholds.STEP - 1e-6), _f(thresholds.BRIGHT), _f(thresholds.DARK)
SATURATED = _f(thresholds.SATURATED - 1e-6)
FAR = _f(thresholds.RED_STEP * np.cos(np.pi / 8) - 1e-4)
"""What is further away than RED_STEP is further than this along one of the directions."""
NOWHERE, HALF_ROOT = _f(-9), _f(np.sqrt(0.5))
NEUTRAL_U, NEUTRAL_V = _f(thresholds.NEUTRAL_U), _f(thresholds.NEUTRAL_V)
X_R, X_G, X_B = _f(0.4124564), _f(0.3575761), _f(0.1804375)
Y_R, Y_G, Y_B = _f(0.2126729), _f(0.7151522), _f(0.0721750)
Z_R, Z_G, Z_B = _f(0.0193339), _f(0.1191920), _f(0.9503041)
L_R, L_G, L_B = _f(0.2126), _f(0.7152), _f(0.0722)
MOST = _f(255)
FOUR, NINE, FIFTEEN = _f(4), _f(9), _f(15)


@inner
def _general(at, now, second, bright, row):
    """Changes of luminance in frame ``now``; whether a change goes the same way as one of the last second.

    Luminance is kept in plane ``row`` of ``bright``, for a closer look.
    """
    again = NONE
    for n in range(LANES):
        y = L_R * load_own(at, n + R) + L_G * load_own(at, n + G) + L_B * load_own(at, n + B)
        store(bright, n + row * CLOSE, y)
        high, low, way = load_own(at, n + HIGH), load_own(at, n + LOW), load_own(at, n + WAY)
        latest = load_own(at, n + LATEST)
        down = (high - y >= TENTH) & (y < BRIGHT)
        up = (y - low >= TENTH) & (low < BRIGHT) & (not down)
        change = down | up
        to = select(up, ONE, -ONE)
        same = change & (way == to) & (now - latest < second)
        store(at, n + HIGH, select(change | (y > high), y, high))
        store(at, n + LOW, select(change | (y < low), y, low))
        store(at, n + WAY, select(change, to, way))
        store(at, n + FOUND, select(change, ONE, ZERO))
        store(at, n + AGAIN, select(same, ONE, ZERO))
    for n in range(LANES):
        again = add_bits(again, to_int(load_own(at, n + AGAIN)))
    return again > 0


@inner
def _forget_earlier(scratch, at, history, now, start, count):
    """Where a change went the same way as the one before, that one no longer counts: this one does."""
    second = history.shape[0]
    slot = now % second
    for k in range(listed(at, AGAIN, count)):
        n = in_list(at, k)
        row = slot - (now - np.int64(scratch[LATEST + n]))  # which is less than a second ago
        history[row + second if row < 0 else row, start + n] &= np.uint8(2)
        scratch[GENERAL + n] -= ONE


@inner
def _put(at, plane, address, count):
    """Write the values of a plane as bytes."""
    for n in range(count):
        put_byte(address, n, load_own(at, n + plane))


@inner
def _exchange(at, address, count):
    """What left the last second comes from the history, and what the frame brought takes its place."""
    for n in range(count):
        store(at, n + GONE, byte_own(address, n))
        put_byte(address, n, load_own(at, n + FOUND))


@inner
def _mark(at, now):
    """Remember in which frame luminance last changed."""
    for n in range(LANES):
        store(at, n + LATEST, select(load_own(at, n + FOUND) >= ONE, now, load_own(at, n + LATEST)))


@inner
def _colours(at):
    """Put the lights' u'v' along the directions in the place of the lights, and whether they are saturated reds; how
    many are."""
    reds = NONE
    for n in range(LANES):
        r, g, b = load_own(at, n + R), load_own(at, n + G), load_own(at, n + B)
        total = r + g + b
        x = X_R * r + X_G * g + X_B * b
        y = Y_R * r + Y_G * g + Y_B * b
        z = Z_R * r + Z_G * g + Z_B * b
        lit = total >= DARK
        share = ONE / select(lit, x + FIFTEEN * y + THREE * z, ONE)
        u, v = select(lit, FOUR * x * share, NEUTRAL_U), select(lit, NINE * y * share, NEUTRAL_V)
        red = select(lit & (r >= SATURATED * total), ONE, ZERO)
        store(at, n + ALONG, u)
        store(at, n + ALONG + LANES, v)
        store(at, n + ALONG + 2 * LANES, (u + v) * HALF_ROOT)
        store(at, n + ALONG + 3 * LANES, (u - v) * HALF_ROOT)
        store(at, n + IS_RED, red)
        store(at, n + AWAY, NOWHERE)
        reds = add_bits(reds, to_int(red))
    return reds > 0


@inner
def _red(at):
    """Changes into a saturated red or out of it: whether the colours of the other kind reach far enough away. Then
    the reach of the light's own kind widens; after a change both begin anew."""
    for way in range(0, WAYS * LANES, LANES):
        for n in range(LANES):
            here, red, away = load_own(at, n + way + ALONG), load_own(at, n + IS_RED) == ONE, load_own(at, n + AWAY)
            top = select(red, load_own(at, n + way + TOP), load_own(at, n + way + TOP + REACH))
            bottom = select(red, load_own(at, n + way + BOTTOM), load_own(at, n + way + BOTTOM + REACH))
            further = select(top - here > here - bottom, top - here, here - bottom)
            store(at, n + AWAY, select(further > away, further, away))
    for n in range(LANES):
        store(at, n + FOUND, load_own(at, n + FOUND) + select(load_own(at, n + AWAY) >= FAR, TWO, ZERO))
    for way in range(0, WAYS * LANES, LANES):
        _reach(at, way + TOP, way + BOTTOM, way + ALONG, ZERO)
        _reach(at, way + TOP + REACH, way + BOTTOM + REACH, way + ALONG, ONE)


@inner
def _no_red(at):
    """Widen the reach of the colours where neither they nor any since the last change are a saturated red."""
    for n in range(LANES):
        for way in range(WAYS):
            here, at_way = load_own(at, n + way * LANES + ALONG), n + way * LANES
            top, bottom = load_own(at, at_way + TOP), load_own(at, at_way + BOTTOM)
            store(at, at_way + TOP, select(here > top, here, top))
            store(at, at_way + BOTTOM, select(here < bottom, here, bottom))


@inner
def _reach(at, top_plane, bottom_plane, along, kind):
    """Widen the reach of one kind of colours along one direction; after a change it begins anew."""
    for n in range(LANES):
        here, change = load_own(at, n + along), load_own(at, n + FOUND) >= TWO
        top = select(change, NOWHERE, load_own(at, n + top_plane))
        bottom = select(change, -NOWHERE, load_own(at, n + bottom_plane))
        mine = load_own(at, n + IS_RED) == kind
        store(at, n + top_plane, select(mine & (here > top), here, top))
        store(at, n + bottom_plane, select(mine & (here < bottom), here, bottom))


@inner
def _knows_red(at):
    """Whether any place has been a saturated red since its last change."""
    known = NONE
    for n in range(LANES):
        known = add_bits(known, to_int(select(load_own(at, n + TOP + REACH) > NOWHERE, ONE, ZERO)))
    return known > 0


@inner
def _count(at, limit):
    """Bring the counts of the last second up to date; how many of them are above the limit."""
    above = NONE
    for n in range(LANES):
        found, gone = load_own(at, n + FOUND), load_own(at, n + GONE)
        found_red, gone_red = select(found >= TWO, ONE, ZERO), select(gone >= TWO, ONE, ZERO)
        general = load_own(at, n + GENERAL) + (found - TWO * found_red) - (gone - TWO * gone_red)
        red = load_own(at, n + RED) + found_red - gone_red
        most, most_red = load_own(at, n + MOST_GENERAL), load_own(at, n + MOST_RED)
        near = select((general >= limit - ONE) | (red >= limit - ONE), load_own(at, n + NEAR) + ONE, ZERO)
        nearest = load_own(at, n + NEAREST)
        # What is above the limit is noted after a close look.
        quiet, quiet_red = select(general > limit, limit, general), select(red > limit, limit, red)
        store(at, n + GENERAL, general)
        store(at, n + RED, red)
        store(at, n + MOST_GENERAL, select(quiet > most, quiet, most))
        store(at, n + MOST_RED, select(quiet_red > most_red, quiet_red, most_red))
        store(at, n + NEAR, near)
        store(at, n + NEAREST, select(near > nearest, near, nearest))
    for n in range(2 * LANES):
        above = add_bits(above, to_int(select(load_own(at, n + GENERAL) > limit, ONE, ZERO)))
    return above


@inner
def _begin(at):
    """Set the state of every lane to its first light: no change, and no colour but this one."""
    for n in range(LANES):
        y = L_R * load_own(at, n + R) + L_G * load_own(at, n + G) + L_B * load_own(at, n + B)
        store(at, n + HIGH, y)
        store(at, n + LOW, y)
        store(at, n + SURE_GENERAL, -ONE)
        store(at, n + SURE_RED, -ONE)
    for n in range(WAYS * LANES):
        for kind in range(2):
            store(at, n + TOP + kind * REACH, NOWHERE)
            store(at, n + BOTTOM + kind * REACH, -NOWHERE)


@inner
def _luminance(at, bright, row):
    """Keep the luminance of every lane in plane ``row``."""
    for n in range(LANES):
        y = L_R * load_own(at, n + R) + L_G * load_own(at, n + G) + L_B * load_own(at, n + B)
        store(bright, n + row * CLOSE, y)


@inner
def _above(at, plane, limit):
    """Whether any value of a plane is above the limit."""
    above = NONE
    for n in range(LANES):
        above = add_bits(above, to_int(select(load_own(at, n + plane) > limit, ONE, ZERO)))
    return above > 0


@inner
def _settle(at, kind, now, limit, sure_from):
    """Tell the counts above the limit that need no close look; how many do: theirs are marked instead."""
    left = NONE
    for n in range(LANES):
        many, most = load_own(at, n + kind + GENERAL), load_own(at, n + kind + MOST_GENERAL)
        above = many > limit
        look = above & (load_own(at, n + kind + SURE_GENERAL) < now) & (many < sure_from)
        told = select(above & (not look), many, ZERO)
        store(at, n + TOLD, select(told > MOST, MOST, told))
        store(at, n + LOOK, select(look, ONE, ZERO))
        store(at, n + kind + MOST_GENERAL, select(told > most, told, most))
        left = add_bits(left, to_int(select(look, ONE, ZERO)))
    return left > 0


@inner
def _note(
    scratch, at, over, bright, frames, light, places, curves, tables, row, lead, now, second, start, count, limit
):
    """Look closely at every place whose quick count is just above the limit, and note the count where it is right.

    All changes of luminance in the quick count but the first begin where the one before ended, so one more than is
    allowed, and one for good measure, are sure.
    """
    for kind in range(2):
        plane, sure_from = kind * LANES, np.float32(limit + 2) if kind == 0 else np.float32(np.inf)
        if not _above(at, plane + GENERAL, np.float32(limit)):
            continue
        if _settle(at, plane, np.float32(now), np.float32(limit), sure_from):
            first = max(0, row - second)
            many = listed(at, LOOK, count)
            if kind == 0:
                latest_general(at, floats_at(np.int64(bright.ctypes.data)), first, row, many, limit + 1)
            for k in range(many):
                n = in_list(at, k)
                latest = np.int64(scratch[BEGUN + k])
                if kind == 1:
                    latest = latest_red(bright, frames, light, places, curves, tables, first, row, start + n, limit + 1)
                if latest >= 0:
                    over_limit = scratch[plane + GENERAL + n]
                    scratch[plane + SURE_GENERAL + n] = now - row + latest + second
                    scratch[plane + MOST_GENERAL + n] = max(scratch[plane + MOST_GENERAL + n], over_limit)
                    scratch[TOLD + n] = min(over_limit, MOST)
        _put(at, TOLD, np.int64(over[kind, row - lead].ctypes.data) + start, count)


@inner
def _take(scratch, planes, frames, light, row, table, channels, white, start, count):
    """Light of the tile's places in one row."""
    if light.shape[2]:
        for colour in range(3):
            _copy(light[row, colour, start : start + count], scratch[R + colour * LANES : R + colour * LANES + count])
        return
    bytes_row = np.int64(frames[row].ctypes.data)
    if white:
        light_of_four(bytes_row, table, channels, planes, R)
    else:
        light_of_three(bytes_row, table, channels, planes, R)


@inner
def _copy(these, out):
    for n in range(len(these)):
        out[n] = these[n]


def follow(
    frames, light, lead, places, curves, tables, state, after, history, at, first, last, limit, over, scratch, bright
):
    """Follow the places ``first`` to ``last`` through a block of frames.

    frames: uint8 (lead + f, channels). places: int64 (n, 4): channel of red, green, blue, white or -1. curves: int16
    (n,): row of tables, float32 (k, 256): light of each byte. light: float32 (lead + f, 3, n): taken instead of
    frames where it holds anything. lead: rows of the second before, all of them but for those before the first frame.
    state: float32 (STATE, n), anything at first; after: of the same shape, set to the state after the block. history:
    uint8 (frames of a second, n), zeros at first, brought up to date. at: number of the frame in row ``lead``; the
    state begins with frame 0. limit: changes in a second that pass. over: uint8 (2, f, n), zeros: counts above it.
    scratch: float32 (FOLLOWED,). bright: float32 (lead + f, CLOSE), scratch.
    """
    planes, table = floats_at(np.int64(scratch.ctypes.data)), floats_at(np.int64(tables.ctypes.data))
    channels = floats_at(np.int64(scratch[PLANES * LANES :].ctypes.data))
    kept_bright = floats_at(np.int64(bright.ctypes.data))
    second, lit, white = history.shape[0], light.shape[2] > 0, False
    for start in range(first, last, LANES):
        count = min(LANES, last - start)
        scratch[:] = 0
        if at > 0:
            for plane in range(STATE):
                _copy(state[plane, start : start + count], scratch[plane * LANES : plane * LANES + count])
        if not lit:
            white = look_up(channels, places, curves, start, count)
        ahead, reds = lead, at > 0 and _knows_red(planes)
        for row in range(lead, lead + over.shape[1]):
            now = at + row - lead
            slot = now % second
            _take(scratch, planes, frames, light, row, table, channels, white, start, count)
            if now == 0:
                _begin(planes)
            if _general(planes, np.float32(now), np.float32(second), kept_bright, row):
                _forget_earlier(scratch, planes, history, now, start, count)
            _mark(planes, np.float32(now))
            if _colours(planes) or reds:
                _red(planes)
                reds = _knows_red(planes)
            else:
                _no_red(planes)
            _exchange(planes, np.int64(history.ctypes.data) + slot * history.shape[1] + start, count)
            if _count(planes, np.float32(limit)) > 0:
                while ahead > max(0, row - second):
                    ahead -= 1
                    _take(scratch, planes, frames, light, ahead, table, channels, white, start, count)
                    _luminance(planes, kept_bright, ahead)
                _note(
                    scratch, planes, over, bright, frames, light, places, curves, tables, row, lead, now, second,
                    start, count, limit,
                )  # fmt: skip
        for plane in range(STATE):
            _copy(scratch[plane * LANES : plane * LANES + count], after[plane, start : start + count])
