"""A beat grid as people talk about it: minutes and seconds, bars from 1, tempo, metre."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from eavesong.music.grid import BREATH, BeatGrid, Section
from eavesong.words import clock_text

if TYPE_CHECKING:
    from pathlib import Path

    from eavesong.music.events import Events
    from eavesong.music.reading import Reading

STEADY = 0.02
"""Share by which the tempo may waver and still be called one tempo."""
LABEL_WIDTH = 24
LABEL_BESIDE_KIND = 16
"""Columns of a label where kinds stand beside it."""
SURE, FAIR = 0.9, 0.6
"""Confidence from which beats are called sure and fair; below they are doubtful, and should be looked at."""

GUESSED = """\
The first is the most likely by all that was heard of beats and bars. How many
beats are right was learned of first readings: the figure of any other is a rough
guess, and a higher one makes it no likelier. In doubt listen, with --click."""
"""What is said of readings whose figures are higher than the first one's."""


def describe(grid: BeatGrid, sure: Sequence[float] | None = None) -> str:
    """``grid`` in a few lines of at most 80 columns: tempo, beats, bars, metre, and a table of the sections.

    ``sure`` is how sure each beat is, 0 to 1, where the beats were heard: the table then says it of each section.
    """
    pickup = grid.positions.index(1)
    lines = [
        f"length    {clock_text(grid.duration)}",
        f"tempo     {_tempo(np.diff(grid.times))} beats a minute",
        f"beats     {grid.beat_count}" + (f", {pickup} of them before bar 1" if pickup else ""),
        f"bars      {grid.bar_count}, from {clock_text(grid.downbeats[0])} on",
        f"metre     {_metre(grid.beats_in_bars)}",
    ]
    if grid.sections:
        lines += ["", *_table(grid, sure)]
    return "\n".join(lines)


def word_for(confidence: float) -> str:
    """``93 %, sure``: a confidence from 0 to 1 as a figure and a plain word."""
    word = "sure" if confidence >= SURE else "fair" if confidence >= FAIR else "doubtful"
    return f"{percent(confidence)}, {word}"


def doubt_of(song: str | Path) -> str:
    """How sure the beats of a song are, as `word_for` says it, where they are doubtful as it was heard; empty where
    they are not, and where a text beside it has them."""
    from eavesong.music.listening import listen, texts_for

    how = "" if texts_for(song)[0] else word_for(listen(song).readings[0].confidence)
    return how if how.endswith("doubtful") else ""


def percent(share: float) -> str:
    """``93 %`` for 0.93."""
    return f"{round(100 * share)} %"


def describe_others(readings: Sequence[Reading], shown: int = 0) -> str:
    """The readings but the one that is shown, a line each: ``2  half the tempo, 60 a minute, 31 %``.

    Below them what the figures mean, where one is higher than that of the first, which is the most likely all the same:
    all that is heard of beats and bars ranks readings, and three figures, learned of first readings, say how sure.
    """
    lines = []
    told = [readings[shown].grid]
    words = Counter((reading.about, f"{reading.grid.tempo:.4g}") for reading in readings)
    for number, reading in enumerate(readings, start=1):
        if any(reading.grid.times == grid.times and reading.grid.positions == grid.positions for grid in told):
            continue  # a first downbeat that is given leaves several with the same bars
        told.append(reading.grid)
        about = reading.about or ("the most likely" if number == 1 else "another way")
        tempo = f"{reading.grid.tempo:.4g}"
        if "bars" in about or words[reading.about, tempo] > 1:
            about += f", {_first_other_bar(reading.grid, readings[shown].grid)}"
        lines.append(f"{number:>3}  {about}, {tempo} a minute, {percent(reading.confidence)}")
    if any(round(100 * each.confidence) > round(100 * readings[0].confidence) for each in readings):
        lines += ["", GUESSED]
    return "\n".join(lines)


SAME = 0.05
"""Seconds within which two readings have a bar line in common."""
ASIDE = 0.5
"""Of a beat, from which on a section begins inside a bar."""


def inside_bars(grid: BeatGrid) -> tuple[str, ...]:
    """The sections, but for the first, that begin inside a bar, in words: ``F at 0:16.50, 1.5 beats into bar 6``."""
    told = []
    for section in grid.sections[1:]:
        bar = int(np.floor(float(grid.musical_time(section.start).bar[0]) + 1e-6))
        lines = (grid.time_of_bar(bar), section.start, grid.time_of_bar(bar + 1))
        line, here, after = (float(grid.musical_time(each).beat[0]) for each in lines)
        beats, length = here - line, after - line
        if ASIDE <= beats <= length - ASIDE:
            where = f"{beats:.2g} beat{'' if beats == 1 else 's'} into bar {bar + 1}"
            told.append(f"{section.label} at {clock_text(section.start)}, {where}")
    return tuple(told)


def _first_other_bar(grid: BeatGrid, shown: BeatGrid) -> str:
    """Where bars begin elsewhere than in the grid that is shown: ``bar 1 at 0:00.53``, ``from 0:43.51 on``."""
    others = np.array(shown.downbeats)
    for number, second in enumerate(grid.downbeats):
        if np.abs(others - second).min() > SAME:
            return f"bar 1 at {clock_text(second)}" if number == 0 else f"from {clock_text(second)} on"
    return f"bar 1 at {clock_text(grid.downbeats[0])}"


def describe_events(events: Events) -> str:
    """What light answers to, counted, in two or three lines of at most 80 columns."""
    strokes = [f"{len(events.labelled(kind))} {kind}" for kind in ("low", "middle", "high")]
    counted = (("hit", "hits"), ("stop", "stops"), ("fill", "fills"), ("build", "builds"), ("arrival", "arrivals"),
               ("phrase", "phrases"))  # fmt: skip
    told = []
    for label, several in counted:
        if count := len(events.labelled(label)):
            told.append(f"{count} {label if count == 1 else several}")
    lead = sum(end - start for start, end, _ in events.spans("lead"))
    lines = [f"strokes   {', '.join(strokes)}"]
    lines += [f"events    {', '.join(told)}"] if told else []
    lines += [f"lead      {clock_text(lead)} of it"] if lead else []
    return "\n".join(lines)


def _table(grid: BeatGrid, sure: Sequence[float] | None) -> list[str]:
    """The sections, a line each under a line of heads."""
    kinds = [section.kind for section in grid.sections if section.kind]
    most = LABEL_BESIDE_KIND if kinds else LABEL_WIDTH
    width = min(most, max(len("section"), *(len(section.label) for section in grid.sections)))
    room = max(len("kind"), *map(len, kinds)) if kinds else 0
    told = f"  {'sure':>5}" if sure is not None else ""
    lines = [f"{_named('section', 'kind', width, room)}  {'start':>8}  {'end':>8}  {'bars':>9}{told}  tempo"]
    for section in grid.sections:
        lines.append(f"{_named(section.label, section.kind, width, room)}  {_row(grid, section, sure)}")
    return lines


def _named(label: str, kind: str, width: int, room: int) -> str:
    """Label and kind in their columns; no kind where there is no room."""
    short = label if len(label) <= width else label[: width - 1] + "…"
    return f"{short:<{width}}" + (f"  {kind:<{room}}" if room else "")


def _row(grid: BeatGrid, section: Section, sure: Sequence[float] | None) -> str:
    begin, end = grid.musical_time([section.start, section.end]).bar
    first = max(0, round(float(begin))) + 1
    ends = grid.last_line if section.end > grid.duration - BREATH else round(float(end))
    last = max(first, min(ends, grid.bar_count))
    times = np.array([time for time in grid.times if section.start - 1e-6 <= time <= section.end + 1e-6])
    told = ""
    if sure is not None:
        inside = [each for each, time in zip(sure, grid.times, strict=True) if section.start <= time < section.end]
        told = f"  {percent(float(np.mean(inside))) if inside else '–':>5}"
    bars = "–" if ends <= 0 else f"{first}–{last}" if last > first else f"{first}"
    tempo = _tempo(np.diff(times)) if len(times) > 1 else "–"
    start, stop = clock_text(section.start), clock_text(section.end)
    return f"{start:>8}  {stop:>8}  {bars:>9}{told}  {tempo}"


def _tempo(gaps: np.ndarray) -> str:
    """The tempo between beats that are ``gaps`` seconds apart, from slow to fast where it is not steady."""
    # Single beats jitter where they were found by ear or by analysis: four together do not.
    several = np.convolve(gaps, np.full(min(4, len(gaps)), 1 / min(4, len(gaps))), mode="valid")
    slow, fast = 60 / several.max(), 60 / several.min()
    if fast / slow - 1 < STEADY:
        return f"{60 / float(np.mean(gaps)):.4g}"
    return f"{slow:.0f} to {fast:.0f}"


FEW = 3
"""Bars of another length that are named."""


def _metre(lengths: tuple[int, ...]) -> str:
    """How many beats bars have; the last bar, whose end nobody knows, counts only when it is alone."""
    counts = Counter(lengths[:-1] or lengths).most_common()
    if len(counts) == 1:
        return f"{counts[0][0]} beats to the bar"
    others = [str(bar) for bar, length in enumerate(lengths[:-1], start=1) if length != counts[0][0]]
    which = f" (bar{'s' * (len(others) > 1)} {', '.join(others)})" if len(others) <= FEW else ""
    told = ", ".join(f"{count} bar{'s' * (count > 1)} of {length}" for length, count in counts[:6])
    return f"changes: {told}{which}; the last not counted"
