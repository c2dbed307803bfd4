"""Hits, stops, and arrivals of a song, from its sketch and its beats.

What might be a hit or a stop is described by some figures, always beside the beats around, among them the drum strokes
that come with it, and judged by their weighted sum, learned from songs in which they were placed:
``tests/benchmarks/hearing/train_accents.py``.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from eavesong.music.bands import FRAME_RATE
from eavesong.music.borrowed import peak_pick
from eavesong.music.events import END, Event
from eavesong.music.sketch import FAINTEST

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from eavesong.music.grid import BeatGrid
    from eavesong.music.sketch import Sketch

    Floats = NDArray[np.float64]

FILE = Path(__file__).with_name("accents.npz")
AROUND = 8.0
"""Beats on either side that are the surroundings of a moment."""
FARTHEST = 2.0
"""Standard deviations beyond which a figure counts no further."""
LATE = 0.03
"""Seconds that the level comes after the sound: most of its window."""

DEEP, LOUD = 9.0, 6.0
"""Decibels below the usual: from the first on a moment may be silence inside the music, within the second it plays."""
SHORTEST, LONGEST = 0.42, 16.0
"""Beats of a stop, measured: half a beat may be measured short; longer ones are another part of the song."""
SILENT = 0.25
"""Beats of it that are silent at least; the rest is sound that dies away."""
BEGUN = 0.35
"""Share of the song's strong rises that is the beginning of a sound."""
FARTHER, EARLY, HELD = 1.0, 0.05, 0.08
"""Beats by which the end of the last sound is moved at most to the next half beat, as notes end where others could
begin; by how much it may be measured after that; and by how much before it a note that lasts from it to the next."""

FAINT = 0.15
"""How far above the usual of each band a hit stands at least, in powers of ten."""
GLANCE = 10
"""Frames after a stroke's beginning in which it is at its strongest."""
APART = 6
"""Frames that strokes are apart at least."""
SAME = 0.3
"""Beats within which strokes are the same."""
TOGETHER = 0.05
"""Seconds within which strokes are one common stroke."""
AFTER, BEFORE = (0.1, 0.85), (-0.9, -0.05)
"""Beats from a hit, of what follows it and of what leads to it."""


@dataclass(frozen=True, eq=False)
class Judge:
    """A weighted sum of figures that are brought to one spread, and how much of it is needed."""

    mean: Floats
    spread: Floats
    weights: Floats
    least: float

    def odds(self, figures: Floats) -> Floats:
        """How much speaks for each row (n, c), above 0 where it is believed: (n,)."""
        return np.asarray(scaled(figures, self.mean, self.spread) @ self.weights - self.least)


def scaled(figures: Floats, mean: Floats, spread: Floats) -> Floats:
    """Figures (n, c) in standard deviations from the mean, held within `FARTHEST`: unusual songs must not shout."""
    return np.clip((figures - mean) / spread, -FARTHEST, FARTHEST)


@cache
def judges() -> dict[str, Judge]:
    """What judges hits, stops and builds, as it comes with the program."""
    with np.load(FILE, allow_pickle=False) as kept:
        return {name: _judge(kept, name) for name in ("hit", "stop", "build")}


def _judge(kept: Mapping[str, Floats], name: str) -> Judge:
    mean, spread, weights, least = (kept[f"{name}_{part}"] for part in ("mean", "spread", "weights", "least"))
    return Judge(mean, spread, weights, float(least))


def find_stops(sketch: Sketch, grid: BeatGrid) -> list[Event]:
    """Stops: silences of half a beat or more inside the music, each with its end."""
    spans, figures = stop_candidates(sketch, grid)
    if not len(spans):
        return []
    events = []
    for (start, end), strength in zip(spans, judges()["stop"].odds(figures), strict=True):
        if strength > 0:
            events.append(Event(round(float(start), 3), "stop", round(share(strength), 3)))
            events.append(Event(round(float(end), 3), "stop" + END))
    return events


def find_hits(sketch: Sketch, grid: BeatGrid, arrivals: Sequence[Event] = ()) -> list[Event]:
    """Hits: strokes of everybody at once that stand out from all strokes of the beats around, and are no arrivals."""
    times, figures = hit_candidates(sketch, grid)
    if not len(times):
        return []
    gap = SAME * 60 / grid.tempo
    events: list[Event] = []
    for time, strength in zip(times, judges()["hit"].odds(figures), strict=True):
        if strength <= 0 or any(abs(each.time - time) < gap for each in arrivals):
            continue
        event = Event(round(float(time), 3), "hit", round(share(strength), 3))
        if events and time - events[-1].time < gap:
            event = max(event, events.pop(), key=lambda each: each.strength)
        events.append(event)
    return events


def share(odds: float) -> float:
    """Odds (above 0) as a strength, from a half to 1."""
    return float(1 / (1 + np.exp(-min(odds, 20.0))))


def stop_candidates(sketch: Sketch, grid: BeatGrid) -> tuple[Floats, Floats]:
    """Start and end (n, 2) in seconds of every silence that might be a stop, and its figures (n, 19)."""
    level, rise = sketch.level.astype(np.float64), sketch.rise.astype(np.float64)
    runs = _silences(level, usual := usual_level(level, grid))
    if not len(runs):
        return np.zeros((0, 2)), np.zeros((0, 19))
    gap = 60 / grid.tempo * FRAME_RATE
    places = grid.beat_at(runs[:, 0] / FRAME_RATE)
    lengths = (runs[:, 1] - runs[:, 2]) / gap
    drops = np.array([(usual[a:b] - level[a:b]).mean() for a, b, _ in runs])
    spans, figures = [], []
    for at, (begin, end, last) in enumerate(runs):
        length, silent = lengths[at], (end - begin) / gap
        if not SHORTEST <= length <= LONGEST or silent < SILENT:
            continue
        away = np.abs(places - places[at])
        near = (away <= 2 * AROUND) & (np.arange(len(runs)) != at)
        alike = near & (lengths > 0.7 * length) & (drops > drops[at] - 4)
        start, stop = (last + 1) / FRAME_RATE - LATE, end / FRAME_RATE - LATE / 2
        off_beat, off_bar = _off(grid, stop)
        figures.append([
            min(length, 3.0), min(silent, 3.0), drops[at], (usual[begin:end] - level[begin:end]).max(),
            drops[at] - drops[near].max(initial=0.0), min(length - lengths[near].max(initial=0.0), 2.0),
            np.log1p((near & (away <= AROUND)).sum()), np.log1p(alike.sum()), min(off_beat, 0.3), min(off_bar, 1.0),
            rise[max(end - 3, 0) : end + 6].sum(), level[end : end + 12].max(initial=FAINTEST) - usual[end - 1],
            np.log1p(len(runs) / len(level) * 60 * FRAME_RATE),
        ])  # fmt: skip
        begun = _next_half(grid, start, stop, _last_begun(rise, last, end) / FRAME_RATE - LATE)
        beat = 60 / grid.tempo
        inside = _strokes_in(sketch, begun + AFTER[0] * beat, stop - AFTER[0] * beat)
        usually = _strokes_in(sketch, begun - AROUND * beat, begun) / AROUND
        figures[-1] += [*_struck_at(sketch, stop), min(inside, 3), min(usually, 4.0)]
        spans.append((begun, stop))
    return np.array(spans).reshape(-1, 2), np.array(figures).reshape(-1, 19)


def _silences(level: Floats, usual: Floats) -> NDArray[np.int64]:
    """First frame, end, and last frame before it in which the music plays, of every silence inside the music (n, 3)."""
    playing = np.flatnonzero(level > np.maximum(usual - LOUD, FAINTEST))
    quiet = level < np.maximum(usual - DEEP, FAINTEST + 1)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], quiet.astype(np.int8), [0]]))).reshape(-1, 2)
    if not len(playing):
        return np.zeros((0, 3), np.int64)
    inside = edges[(edges[:, 0] > playing[0]) & (edges[:, 1] <= playing[-1])]
    return np.column_stack([inside, playing[np.searchsorted(playing, inside[:, 0]) - 1]])


def usual_level(level: Floats, grid: BeatGrid) -> Floats:
    """The usual loudness (f,) of the beats around each frame, in decibels: the median of their loudest moments."""
    times = np.array(grid.times)
    edges = np.unique(np.round(times * FRAME_RATE).astype(np.int64))
    edges = edges[edges < len(level)]
    if len(edges) < 2:
        return np.full(len(level), float(np.median(level)) if len(level) else FAINTEST)
    loudest = np.maximum.reduceat(level, edges)
    padded = np.pad(loudest, int(AROUND), mode="edge")
    medians = np.median(np.lib.stride_tricks.sliding_window_view(padded, 2 * int(AROUND) + 1), axis=1)
    return np.asarray(np.interp(np.arange(len(level)), edges, medians))


def _off(grid: BeatGrid, moment: float) -> tuple[float, float]:
    """Beats between a moment and the nearest beat, and the nearest downbeat."""
    musical = grid.musical_time([moment])
    beat, bar = float(musical.beat[0]), float(musical.bar[0])
    return abs(beat - round(beat)), abs(bar - round(bar)) * float(musical.beats_per_bar[0])


def _struck_at(sketch: Sketch, moment: float) -> list[float]:
    """How strong the low, the middle and the high stroke at a moment are, 0 for none, and how many there are."""
    near = ((each.strengths, np.abs(each.times - moment) < TOGETHER) for each in sketch.strokes.values())
    found = [float(strengths[there].max(initial=0.0)) for strengths, there in near]
    return [*found, float(sum(each > 0 for each in found))]


def _strokes_in(sketch: Sketch, begin: float, end: float) -> int:
    """How many strokes of all kinds there are between two moments."""
    return sum(int(((each.times > begin) & (each.times < end)).sum()) for each in sketch.strokes.values())


def _last_begun(rise: Floats, first: int, end: int) -> int:
    """The last frame, half a second before ``first`` at the earliest, in which a sound began before a silence ends."""
    begin = max(0, first - FRAME_RATE // 2)
    strong = BEGUN * float(np.percentile(rise, 98))
    begun = np.flatnonzero(rise[begin : max(end - 8, begin)] > strong)
    return begin + int(begun[-1]) if len(begun) else begin


def _next_half(grid: BeatGrid, start: float, stop: float, begun: float) -> float:
    """``start`` moved to the next half beat, where that is near and not too near to ``stop``; seconds.

    A note that has ``begun`` (seconds) lasts to the next half beat at least.
    """
    first, last, note = grid.beat_at([start, stop, begun])
    half = max(np.ceil((first - EARLY) * 2), np.floor((note + HELD) * 2) + 1) / 2
    near = half - first < FARTHER and last - half > 0.4
    return max(0.0, grid.time_of_beat(float(half)) if near else start)


def hit_candidates(sketch: Sketch, grid: BeatGrid) -> tuple[Floats, Floats]:
    """Seconds (n,) of every stroke that might be a hit, and its figures (n, 18)."""
    standing, rise = sketch.standing.astype(np.float64), sketch.rise.astype(np.float64)
    count = min(len(standing), len(rise), len(sketch.level))
    level = sketch.level[:count].astype(np.float64)
    attack = np.convolve(rise[:count], np.ones(5), mode="same") if count > GLANCE else np.zeros(0)
    peaks = peak_pick(attack, APART)
    peaks = peaks[attack[peaks] > 0.25 * np.percentile(attack[peaks], 90)] if len(peaks) else peaks
    usual, gap = usual_level(level, grid), 60 / grid.tempo * FRAME_RATE
    places, heights, attacks = grid.beat_at(peaks / FRAME_RATE), _strongest(standing[:count])[peaks], attack[peaks]
    loud = np.array([level[peak : peak + 15].max() for peak in peaks])
    ends, beat = _ends(level), 60 / grid.tempo
    times, figures = [], []
    for at, peak in enumerate(peaks):
        away = np.abs(places - places[at])
        near = (away <= AROUND) & (away > SAME)
        if near.sum() < 4 or heights[at] < FAINT:
            continue
        tall = max(float(np.percentile(heights[near], 90)), 0.02)
        if heights[at] < 0.95 * tall:
            continue
        after = level[min(count - 1, peak + int(0.45 * gap)) : min(count, peak + int(0.95 * gap)) + 1]
        before = level[max(0, peak - int(0.6 * gap)) : max(1, peak - 8)]
        figures.append([
            np.log(heights[at] / tall), heights[at], np.log(heights[at] / max(heights[near].max(), 0.02)),
            after.mean() - usual[peak], before.mean() - usual[peak], loud[at] - usual[peak],
            loud[at] - np.percentile(loud[near], 95),
            np.log(attacks[at] / max(float(np.percentile(attacks[near], 90)), 0.01)),
            (heights >= heights[at]).sum() / count * 60 * FRAME_RATE,
        ])  # fmt: skip
        times.append(max(0.0, peak / FRAME_RATE - LATE))
        struck = _struck_at(sketch, times[-1])
        usually = _strokes_in(sketch, times[-1] - AROUND * beat, times[-1] + AROUND * beat) / (2 * AROUND) + SAME
        beside = [
            _strokes_in(sketch, times[-1] + first * beat, times[-1] + last * beat) / usually
            for first, last in (AFTER, BEFORE)
        ]
        off_beat, left = min(_off(grid, times[-1])[0], 0.3), min(ends - times[-1], 4.0)
        figures[-1] += [*struck, min(struck[:3]), off_beat, left, *beside]
    return np.array(times), np.array(figures).reshape(-1, 18)


def _ends(level: Floats) -> float:
    """The second at which a song's music ends: the last that is loud."""
    loud = np.flatnonzero(level > np.percentile(level, 90) - 2 * LOUD) if len(level) else np.zeros(0)
    return float(loud[-1]) / FRAME_RATE if len(loud) else 0.0


def _strongest(values: Floats) -> Floats:
    """The largest of each value (f,) and those of the glance after it."""
    if not len(values):
        return values
    padded = np.pad(values, (0, GLANCE), mode="edge")
    return np.asarray(np.lib.stride_tricks.sliding_window_view(padded, GLANCE + 1).max(axis=1))


def find_arrivals(ends: Sequence[tuple[float, float]], grid: BeatGrid) -> list[Event]:
    """Arrivals: the first downbeat at or after each end (seconds, strength) of a stop or a build, one a bar."""
    downbeats = np.array(grid.downbeats)
    arrivals: dict[float, float] = {}
    for end, strength in ends:
        after = downbeats[downbeats >= end - SAME * 60 / grid.tempo]
        if len(after):
            arrivals[float(after[0])] = max(strength, arrivals.get(float(after[0]), 0.0))
    return [Event(round(time, 3), "arrival", round(strength, 3)) for time, strength in sorted(arrivals.items())]
