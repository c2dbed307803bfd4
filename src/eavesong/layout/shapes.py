"""Shapes: sizes in, a wire out. One function for each shape of the layout file.

Every shape stands in its own coordinates, x to the right, y upwards, z towards the street, all lengths in one
unit. Shapes that stand on something have their origin at the middle of their foot; shapes that are hung by their
middle (ring, star, spokes, sphere) have it there; icicles have it at the middle of the edge they hang from.
Pixels are spread evenly along the wire; each sits in the middle of its share of the length.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from eavesong.errors import MisfitError
from eavesong.layout.wire import Floats, Wire, bundle, check_count, count_for, path_length, single, thread

SEGMENTS = 2048
"""Straight pieces a full turn of a curve is measured in: its length is then right to 4 parts in ten million."""


def spot() -> Wire:
    """One pixel at the origin: a floodlight, a lamp, the middle of a flower."""
    origin = np.zeros((1, 3))
    return bundle([origin], [0.0], low=origin[0], high=origin[0])


def line(start: Sequence[float], end: Sequence[float], pixels: int | None, pitch: float | None) -> Wire:
    """A straight wire from ``start`` to ``end`` (x, y, z)."""
    return single(np.array([start, end], dtype=np.float64), pixels, pitch)


def polyline(corners: Sequence[Sequence[float]], closed: bool, pixels: int | None, pitch: float | None) -> Wire:
    """A wire through ``corners`` (x, y, z) in order, back to the first one when ``closed``."""
    path = np.array([*corners, corners[0]] if closed else corners, dtype=np.float64)
    return single(path, pixels, pitch)


def ellipse_path(width: float, height: float, start: float, turn: float) -> Floats:
    """Points along an upright ellipse round the origin, from ``start`` degrees through ``turn`` degrees.

    0 degrees points right, positive turns go counter-clockwise seen from the street.
    """
    pieces = max(8, math.ceil(SEGMENTS * abs(turn) / 360))
    angle = np.radians(start + np.linspace(0, turn, pieces + 1))
    return np.stack([width / 2 * np.cos(angle), height / 2 * np.sin(angle), np.zeros_like(angle)], axis=1)


def _nest(
    paths: Sequence[Floats],
    pixels: int | None,
    pitch: float | None,
    low: Sequence[float],
    high: Sequence[float],
    zigzag: bool = False,
) -> Wire:
    lengths = [path_length(path) for path in paths]
    counts = [count_for(length, pixels, pitch) for length in lengths]
    check_count(sum(counts))
    strands = [thread(path, count) for path, count in zip(paths, counts, strict=True)]
    return bundle(strands, lengths, low=np.array(low), high=np.array(high), zigzag=zigzag)


GAP = 0.1
"""Metres between nested curves where the file says nothing."""


def _nested_sizes(width: float, height: float, nested: int, gap: float, sides: int) -> list[tuple[float, float]]:
    """Width and height of each of ``nested`` curves, outermost first, ``gap`` apart on every side."""
    sizes = [(width - 2 * gap * inner, height - sides * gap * inner) for inner in range(nested)]
    if min(min(size) for size in sizes) <= 0:
        raise MisfitError(f"{nested} curves {gap:g} apart do not fit into each other", "Use fewer or a smaller gap.")
    return sizes


def arch(
    width: float,
    height: float,
    pixels: int | None,
    pitch: float | None,
    nested: int = 1,
    gap: float = GAP,
    start: str = "left",
    zigzag: bool = True,
) -> Wire:
    """Half an ellipse standing on its two feet; origin midway between the feet.

    ``nested`` arches stand inside each other, outermost first, ``gap`` apart; ``pixels`` is for each of them.
    """
    sizes = _nested_sizes(width, height, nested, gap, sides=1)
    first, turn = (180, -180) if start == "left" else (0, 180)
    paths = [ellipse_path(across, 2 * up, first, turn) for across, up in sizes]
    return _nest(paths, pixels, pitch, (-width / 2, 0, 0), (width / 2, height, 0), zigzag)


_COMPASS = {"right": 0.0, "top": 90.0, "left": 180.0, "bottom": 270.0}


def ring(
    width: float,
    height: float,
    pixels: int | None,
    pitch: float | None,
    nested: int = 1,
    gap: float = GAP,
    start: str = "bottom",
    clockwise: bool = True,
) -> Wire:
    """A whole ellipse round the origin; ``nested`` rings as for `arch`."""
    sizes = _nested_sizes(width, height, nested, gap, sides=2)
    paths = [ellipse_path(across, up, _COMPASS[start], -360 if clockwise else 360) for across, up in sizes]
    return _nest(paths, pixels, pitch, (-width / 2, -height / 2, 0), (width / 2, height / 2, 0))


_CORNERS = ("bottom left", "top left", "top right", "bottom right")  # clockwise seen from the street


def rectangle(
    width: float,
    height: float,
    pixels: int | None,
    pitch: float | None,
    start: str = "bottom left",
    clockwise: bool = True,
) -> Wire:
    """The outline of a rectangle, a window frame; origin at the middle of its lower side."""
    half = width / 2
    corners = [(-half, 0, 0), (-half, height, 0), (half, height, 0), (half, 0, 0)]
    first = _CORNERS.index(start)
    order = [(first + (step if clockwise else -step)) % 4 for step in range(5)]
    return single(np.array([corners[corner] for corner in order], dtype=np.float64), pixels, pitch)


def cane(height: float, hook: float, pixels: int | None, pitch: float | None, start: str = "bottom") -> Wire:
    """A walking stick: a post with half a circle ``hook`` wide on top, to the right; origin at its foot."""
    shoulder = height - hook / 2
    if shoulder <= 0:
        raise MisfitError("the hook is wider than twice the height", "Make 'height' more than half of 'hook'.")
    curl = ellipse_path(hook, hook, 180, -180) + np.array([hook / 2, shoulder, 0])
    path = np.concatenate([np.zeros((1, 3)), curl])
    return single(path if start == "bottom" else path[::-1], pixels, pitch)


def star(
    tips: int, outer: float, inner: float, pixels: int | None, pitch: float | None, clockwise: bool = True
) -> Wire:
    """The outline of a star round the origin; ``outer`` and ``inner`` are radii. It begins at the topmost tip."""
    if inner >= outer:
        raise MisfitError("'inner' is not smaller than 'outer'", "Make the inner radius the smaller one.")
    corner = np.arange(2 * tips + 1)
    angle = np.radians(90) + (-1 if clockwise else 1) * np.pi * corner / tips
    radius = np.where(corner % 2 == 0, outer, inner)
    path = np.stack([radius * np.cos(angle), radius * np.sin(angle), np.zeros_like(angle)], axis=1)
    return single(path, pixels, pitch)


def spokes(arms: int, inner: float, outer: float, pixels: int, zigzag: bool = False, clockwise: bool = True) -> Wire:
    """Straight arms from radius ``inner`` out to ``outer``, the first one upwards; ``pixels`` on each arm."""
    if inner >= outer:
        raise MisfitError("'inner' is not smaller than 'outer'", "Make the inner radius the smaller one.")
    check_count(arms * pixels)
    angle = np.radians(90) + (-1 if clockwise else 1) * 2 * np.pi * np.arange(arms) / arms
    radius = inner + (outer - inner) * (np.arange(pixels) + 0.5) / pixels
    strands = [np.stack([radius * np.cos(turn), radius * np.sin(turn), np.zeros(pixels)], axis=1) for turn in angle]
    edge = np.array([outer, outer, 0.0])
    return bundle(strands, [outer - inner] * arms, low=-edge, high=edge, zigzag=zigzag, closed=True)


def grid(
    columns: int,
    rows: int,
    width: float,
    height: float,
    start: str = "bottom left",
    wiring: str = "rows",
    zigzag: bool = True,
) -> Wire:
    """An upright sheet of ``columns`` by ``rows`` pixels in the middles of its cells; origin mid-bottom.

    It begins in the ``start`` corner and follows its ``wiring``, row by row or column by column; with ``zigzag``
    every second one runs back.
    """
    check_count(columns * rows)
    xs = ((np.arange(columns) + 0.5) / columns - 0.5) * width
    ys = (np.arange(rows) + 0.5) / rows * height
    xs = xs[::-1] if "right" in start else xs
    ys = ys[::-1] if "top" in start else ys
    places = np.zeros((rows, columns, 3))
    places[..., 0], places[..., 1] = xs, ys[:, None]
    strands = list(places if wiring == "rows" else places.swapaxes(0, 1))
    length = width if wiring == "rows" else height
    low, high = np.array([-width / 2, 0, 0]), np.array([width / 2, height, 0])
    return bundle(strands, [length] * len(strands), low=low, high=high, zigzag=zigzag)


def cone(
    height: float,
    base: float,
    top: float,
    strings: int,
    pixels: int,
    turn: float = 360,
    start: str = "bottom",
    zigzag: bool = True,
    clockwise: bool = False,
) -> Wire:
    """A tree of straight strings from a circle ``base`` wide up to one ``top`` wide; origin mid-foot.

    The strings share ``turn`` degrees evenly, centred on the street side: half a tree (180) faces the street.
    From the street the strings follow each other from left to right across the front (counter-clockwise seen
    from above), a whole turn beginning and ending at the back; ``clockwise`` turns this round. ``pixels`` is for
    each string.
    """
    check_count(strings * pixels)
    share = (np.arange(pixels) + 0.5) / pixels
    share = share[::-1] if start == "top" else share
    radius = (base + (top - base) * share) / 2
    angle = np.radians(turn) * ((np.arange(strings) + 0.5) / strings - 0.5) * (-1 if clockwise else 1)
    strands = [np.stack([radius * np.sin(a), height * share, radius * np.cos(a)], axis=1) for a in angle]
    reach = max(base, top) / 2
    length = math.hypot(height, (base - top) / 2)
    low, high = np.array([-reach, 0, -reach]), np.array([reach, height, reach])
    return bundle(strands, [length] * strings, low=low, high=high, zigzag=zigzag, closed=turn >= 359.5)


def helix(
    height: float,
    base: float,
    top: float,
    turns: float,
    pixels: int | None,
    pitch: float | None,
    start: str = "bottom",
    clockwise: bool = False,
) -> Wire:
    """A wire wound ``turns`` times round a post or a tree, from ``base`` wide to ``top`` wide; origin mid-foot.

    It begins on the street side; seen from above it winds upwards counter-clockwise, or ``clockwise``.
    """
    share = np.linspace(0, 1, math.ceil(SEGMENTS * max(turns, 1 / 8)) + 1)
    angle = 2 * np.pi * turns * share * (-1 if clockwise else 1)
    radius = (base + (top - base) * share) / 2
    path = np.stack([radius * np.sin(angle), height * share, radius * np.cos(angle)], axis=1)
    return single(path if start == "bottom" else path[::-1], pixels, pitch)


def sphere(diameter: float, rings: int, pixels: int | None, pitch: float | None) -> Wire:
    """Level rings on a ball round the origin, from the lowest up, evenly spaced from pole to pole.

    ``pixels`` in all are shared out in proportion to the rings' lengths, at least one each. Every ring begins on
    the street side and runs counter-clockwise seen from above.
    """
    latitude = np.pi * ((np.arange(rings) + 0.5) / rings - 0.5)
    radius = diameter / 2 * np.cos(latitude)
    lengths = 2 * np.pi * radius
    total = count_for(float(lengths.sum()), pixels, pitch)
    if total < rings:
        raise MisfitError(f"{rings} rings need at least {rings} pixels, not {total}", "Use fewer rings.")
    strands = []
    for level, r, count in zip(latitude, radius, _share_out(total, lengths), strict=True):
        angle = 2 * np.pi * (np.arange(count) + 0.5) / count
        up = np.full(count, diameter / 2 * np.sin(level))
        strands.append(np.stack([r * np.sin(angle), up, r * np.cos(angle)], axis=1))
    edge = np.full(3, diameter / 2)
    return bundle(strands, list(lengths), low=-edge, high=edge)


def _share_out(total: int, weights: Floats) -> list[int]:
    """``total`` as whole numbers in proportion to ``weights``, at least 1 each (largest remainders)."""
    spare = total - len(weights)
    exact = spare * weights / weights.sum()
    shares = np.floor(exact).astype(int)
    rest = np.argsort(shares - exact, kind="stable")[: spare - int(shares.sum())]
    shares[rest] += 1
    return [int(share) + 1 for share in shares]


def icicles(width: float, drops: int, lengths: Sequence[float], pitch: float, start: str = "left") -> Wire:
    """Drops hanging from an edge ``width`` wide, wired one after the other, each from its top down.

    ``lengths`` repeat along the edge; a drop carries one pixel for every ``pitch`` of its length, at least one.
    """
    place = ((np.arange(drops) + 0.5) / drops - 0.5) * width
    place = place[::-1] if start == "right" else place
    hung = [lengths[drop % len(lengths)] for drop in range(drops)]
    counts = [count_for(length, None, pitch) for length in hung]
    check_count(sum(counts))
    strands = []
    for x, length, count in zip(place, hung, counts, strict=True):
        down = -(np.arange(count) + 0.5) / count * length
        strands.append(np.stack([np.full(count, x), down, np.zeros(count)], axis=1))
    low, high = np.array([-width / 2, -max(hung), 0]), np.array([width / 2, 0, 0])
    return bundle(strands, hung, low=low, high=high, level=True)


def surveyed(places: Floats) -> Wire:
    """Pixels at measured ``places`` (n, 3); the wire runs straight from each to the next."""
    gaps = np.linalg.norm(np.diff(places, axis=0), axis=1)
    ends = (gaps[0] / 2, gaps[-1] / 2) if len(gaps) else (0.0, 0.0)
    along = np.concatenate([[0.0], np.cumsum(gaps)]) + ends[0]
    itself = np.arange(len(places))
    return Wire(
        points=places,
        along=along,
        length=float(along[-1] + ends[1]),
        low=places.min(axis=0),
        high=places.max(axis=0),
        strand=np.zeros(len(places), dtype=np.int64),
        before=itself,
        after=itself,
    )
