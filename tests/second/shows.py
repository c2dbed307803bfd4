"""Bytes, fades and places as docs/layout.md and docs/show.md have them to the letter, in plain Python."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any


def bytes_of(light: Sequence[float], order: str, brightness: float, gamma: float) -> list[int]:
    """The bytes of a pixel of ``light`` (red, green, blue), in the order of its wire."""
    steps = dict(zip("RGB", (math.floor(4095 * min(max(part, 0), 1) + 0.5) for part in light), strict=True))
    if "W" in order:
        white = min(steps.values())
        steps = {name: step - white for name, step in steps.items()} | {"W": white}
    return [math.floor(255 * brightness * (steps[name] / 4095) ** gamma + 0.5) for name in order]


# --- fades -----------------------------------------------------------------------------------------------------------


def beat_at(beats: Sequence[float], second: float) -> float:
    """Beats since the first one; before it and after the last at the nearest interval."""
    at = min(max(sum(time <= second for time in beats) - 1, 0), len(beats) - 2)
    return at + (second - beats[at]) / (beats[at + 1] - beats[at])


def second_of(beats: Sequence[float], beat: float) -> float:
    at = min(max(math.floor(beat), 0), len(beats) - 2)
    return beats[at] + (beat - at) * (beats[at + 1] - beats[at])


def held(share: float) -> float:
    return min(max(share, 0.0), 1.0)


def strength(beats: Sequence[float], cue: dict[str, Any], second: float) -> tuple[float, float]:
    """Strength and progress of a cue with one span, in bars of four or in seconds, and fades of one unit each."""
    musical = "bars" in cue
    start, end = [second_of(beats, 4 * (bar - 1)) for bar in cue["bars"]] if musical else cue["times"]
    if not start <= second < end:
        return 0.0, 0.0

    def length(fade: dict[str, Any], at: float, way: int) -> float:
        if "seconds" in fade:
            return fade["seconds"]
        count = fade.get("beats", 0) + 4 * fade.get("bars", 0)
        return abs(second_of(beats, beat_at(beats, at) + way * count) - at)

    come, go = length(cue.get("fade_in", {}), start, 1), length(cue.get("fade_out", {}), end, -1)
    shorter = min(1.0, (end - start) / (come + go)) if come + go else 1.0
    clock: Callable[[float], float] = (lambda at: beat_at(beats, at)) if musical else float
    places = [clock(at) for at in (start, start + come * shorter, end - go * shorter, end)]
    now = clock(second)
    up = held((now - places[0]) / (places[1] - places[0])) if come else 1.0
    down = 1 - held((now - places[2]) / (places[3] - places[2])) if go else 1.0
    return up * down, held((now - places[0]) / (places[3] - places[0]))


# --- places ----------------------------------------------------------------------------------------------------------

Point = tuple[float, float, float]


def icicles(width: float, drops: int, lengths: Sequence[float], pitch: float) -> list[list[Point]]:
    """The drops of icicles, each from its top down."""
    found = []
    for drop in range(drops):
        length = lengths[drop % len(lengths)]
        count = max(1, math.floor(length / pitch + 0.5))
        x = ((drop + 0.5) / drops - 0.5) * width
        found.append([(x, -(n + 0.5) / count * length, 0.0) for n in range(count)])
    return found


def sphere(diameter: float, counts: Sequence[int]) -> list[list[Point]]:
    """The rings of a sphere, from the lowest, each from the street side round, ``counts`` pixels on each."""
    found = []
    for ring, count in enumerate(counts):
        up = math.pi * ((ring + 0.5) / len(counts) - 0.5)
        r, y = diameter / 2 * math.cos(up), diameter / 2 * math.sin(up)
        turns = [2 * math.pi * (n + 0.5) / count for n in range(count)]
        found.append([(r * math.sin(turn), y, r * math.cos(turn)) for turn in turns])
    return found


def columns(count: int, rows: int, width: float, height: float) -> list[list[Point]]:
    """The columns of a grid, from the left, each from the bottom up."""
    xs = [((n + 0.5) / count - 0.5) * width for n in range(count)]
    return [[(x, (n + 0.5) / rows * height, 0.0) for n in range(rows)] for x in xs]


def cone(height: float, base: float, strings: int, count: int) -> list[list[Point]]:
    """The strings of a whole cone with a pointed top, from the foot up."""
    found = []
    for string in range(strings):
        turn = 2 * math.pi * ((string + 0.5) / strings - 0.5)
        shares = [(n + 0.5) / count for n in range(count)]
        found.append([
            (base / 2 * (1 - s) * math.sin(turn), s * height, base / 2 * (1 - s) * math.cos(turn)) for s in shares
        ])  # fmt: skip
    return found


def mean(changes: list[float]) -> float:
    return sum(changes) / len(changes) if changes else 0.0


def steps(strands: Sequence[Sequence[float]], closed: bool, by_count: bool) -> tuple[list[list[float]], ...]:
    """The changes along and across of a value that pixels have, by strand; all strands in their common direction."""
    along = [
        [mean([values[m + 1] - values[m] for m in (n - 1, n) if 0 <= m < len(values) - 1]) for n in range(len(values))]
        for values in strands
    ]
    across = []
    for k, values in enumerate(strands):
        across.append([])
        for n in range(len(values)):
            changes = []
            for way in (-1, 1):
                other = (k + way) % len(strands) if closed and len(strands) > 2 else k + way
                if 0 <= other < len(strands):
                    there = strands[other]
                    at = n if by_count else math.floor((n + 0.5) / len(values) * len(there))
                    if at < len(there):
                        changes.append(way * (there[at] - values[n]))
            across[-1].append(mean(changes))
    return along, across


def seed(place: Point) -> float:
    """The random number of a place in the house frame."""
    n = 0x9E3779B9
    for part in place:
        n ^= math.floor(8192 * part + 0.382)
        n = (n ^ n >> 16) * 0x85EBCA6B % 2**32
        n = (n ^ n >> 13) * 0xC2B2AE35 % 2**32
        n ^= n >> 16
    return (n >> 8) / 2**24
