"""What a description has to be, whoever wrote it: numbers in their ranges, tables that fit each other to the channel.

The writer and the reader ask here, so that nothing reaches a kernel, an array's size or a clock unchecked. Each misfit
is a place in the file and what is found there.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from eavesong.frames.format import (
    FARTHEST_ORIGIN,
    FASTEST,
    LARGEST_SPAN,
    LAST_UNIVERSE,
    LONGEST_NAME,
    LONGEST_SONG,
    MOST_FRAMES,
    ORDERS,
    SLOTS,
    SLOWEST,
)  # fmt: skip

if TYPE_CHECKING:
    from eavesong.frames.description import PatchRow, PropRow

Misfit = tuple[str, str]


def in_numbers(
    frame_rate: float, start: float, song_seconds: float, origin: Sequence[float] | None
) -> Iterator[Misfit]:
    """What is wrong with the numbers of a description: frames a second, seconds and metres (3,)."""
    if not SLOWEST <= frame_rate <= FASTEST:
        yield "frame_rate", f"a frame rate is {SLOWEST:g} to {FASTEST:,.0f} a second, not {frame_rate:g}"
    if not abs(start) <= LONGEST_SONG:
        yield "start", f"frames begin within {LONGEST_SONG:,.0f} s of the song's beginning, not at {start:g}"
    if not 0 <= song_seconds <= LONGEST_SONG:
        yield "song_seconds", f"a song is 0 to {LONGEST_SONG:,.0f} s long, not {song_seconds:g}"
    for axis, metres in zip("xyz", origin or (), strict=False):
        if not abs(metres) <= FARTHEST_ORIGIN:
            yield f"origin_{axis}", f"a house begins within {FARTHEST_ORIGIN:,.0f} m of its zero, not at {metres:g}"
    if origin is not None and len(origin) != 3:
        yield "origin", f"a place has 3 numbers, not {len(origin)}"


def in_frame_count(frame_count: int, frame_rate: float) -> Iterator[Misfit]:
    """What is wrong with the number of frames at ``frame_rate``, which is in its range."""
    if not 1 <= frame_count <= min(MOST_FRAMES, LONGEST_SONG * frame_rate):
        yield "/frames", f"{frame_count:,} frames at {frame_rate:g} a second are no song"


def in_tables(
    places: np.ndarray, metres: np.ndarray, props: Sequence[PropRow], patch: Sequence[PatchRow], channels: int
) -> Iterator[Misfit]:
    """What is wrong with tables (pixel, 3) and rows beside each other, in frames of ``channels`` bytes."""
    pixels = len(places)
    if len(metres) != pixels:
        yield "/metres", "places and metres hold the same pixels"
    for name, table in (("/places", places), ("/metres", metres)):
        if not (np.abs(table) <= LARGEST_SPAN).all():  # not a number is not below anything
            yield name, f"pixel {_first_far(table)} is nowhere"
    yield from _in_props(props, pixels)
    yield from _in_patch(patch, pixels, channels, {row.name for row in props})


def _first_far(table: np.ndarray) -> int:
    return int(np.flatnonzero(~(np.abs(table) <= LARGEST_SPAN).all(axis=1))[0])


def _in_props(props: Sequence[PropRow], pixels: int) -> Iterator[Misfit]:
    at = 0
    for row in props:
        if row.first_pixel != at or not 1 <= row.pixel_count <= pixels - at:
            end = row.first_pixel + row.pixel_count - 1
            yield "/props", f"'{row.name}' has pixels {row.first_pixel} to {end}, where {at} of {pixels} is the next"
            return
        at += row.pixel_count
    if at != pixels:
        yield "/props", f"pixel {at} belongs to no prop"
    if len({row.name for row in props}) < len(props):
        yield "/props", "two props have one name"
    if any(len(text) > LONGEST_NAME for row in props for text in (row.name, row.shape, *row.tags)):
        yield "/props", f"a name is longer than {LONGEST_NAME:,} letters"


def _in_patch(patch: Sequence[PatchRow], pixels: int, channels: int, props: set[str]) -> Iterator[Misfit]:
    """The rows follow each other channel by channel: every channel of a frame in exactly one of them."""
    pixel = channel = part = 0  # what the next row begins with; channels of that pixel that have been
    order = ""
    for row in patch:
        if found := next(_in_row(row, pixels, channels, props), None) or _out_of_turn(row, pixel, channel, part, order):
            yield "/patch", f"a patch row of '{row.prop}' {found}"
            return
        order = row.order
        channel += row.channel_count
        done, part = divmod(part + row.channel_count, len(order))
        pixel += done
    if pixel < pixels:
        yield "/patch", f"pixel {pixel} stands in no row of the patch"
    elif channel != channels:
        yield "/patch", f"the patch has {channel:,} channels, a frame {channels:,}"


def _in_row(row: PatchRow, pixels: int, channels: int, props: set[str]) -> Iterator[str]:
    """What is wrong with a row by itself."""
    if row.order not in ORDERS:
        yield f"has '{row.order:.20}', which is not a colour order"
    if not 0 <= row.first_pixel < row.first_pixel + row.pixel_count <= pixels:
        yield f"names pixel {row.first_pixel + row.pixel_count - 1} of {pixels}"
    if not 0 <= row.first_channel < row.first_channel + row.channel_count <= channels:
        yield f"runs beyond the {channels} channels of a frame"
    if not 0 <= row.universe <= LAST_UNIVERSE:
        yield f"names universe {row.universe}"
    if row.universe and not 1 <= row.slot <= SLOTS - row.channel_count + 1:
        yield f"leads from slot {row.slot} out of its universe"
    if row.prop not in props:
        yield "names no prop"
    ranges = {"slot": (0, SLOTS), "output": (0, 2**31), "frame_rate_limit": (0, 1e6), "brightness": (0, 1),
              "gamma": (0, 100)}  # fmt: skip
    yield from _beyond(row, ranges)
    if any(len(text) > LONGEST_NAME for text in (row.controller, row.address, row.protocol)):
        yield f"has a name longer than {LONGEST_NAME:,} letters"


def _beyond(row: PatchRow, ranges: Mapping[str, tuple[float, float]]) -> Iterator[str]:
    for name, (least, most) in ranges.items():
        number = getattr(row, name)
        if not (math.isfinite(number) and least <= number <= most):
            yield f"has the {name.replace('_', ' ')} {number:g}"


def _out_of_turn(row: PatchRow, pixel: int, channel: int, part: int, order: str) -> str:
    """What is wrong where a row does not go on with ``pixel`` and ``channel``; empty where it does."""
    width = len(row.order)
    if row.first_pixel > pixel:
        return f"begins with pixel {row.first_pixel}: pixel {pixel} stands in no row of the patch"
    whole = not part and row.channel_count == row.pixel_count * width
    piece = row.pixel_count == 1 and row.channel_count <= width - part and (not part or row.order == order)
    if (row.first_pixel, row.first_channel) == (pixel, channel) and (whole or piece):
        return ""
    return f"does not go on with channel {channel} of pixel {pixel}"


def first_of(misfits: Iterable[Misfit]) -> str:
    """What is found first, in words; empty where all fits."""
    return next((found for _, found in misfits), "")
