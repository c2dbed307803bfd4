"""The picture of a song as it was heard: its sound with beats, bars, sections and how sure they are, row by row."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from eavesong.preview.heard_events import draw_events
from eavesong.preview.heard_rows import (
    BANDS,
    LEAD,
    NUMBERS,
    PARTS,
    ROW,
    SPANS,
    STROKES,
    SURENESS,
    TICKS,
    TIMES,
    WAVE,
)
from eavesong.preview.ink import ACCENT, FAINT, PAPER, TEXT, font
from eavesong.words import clock_text

if TYPE_CHECKING:
    from eavesong.music import BeatGrid, Events, Reading, Section

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]

WIDTH = 2000
LEFT, RIGHT, TOP, BOTTOM = 62, 24, 62, 14
"""Picture elements around the rows; the first holds the names of what a row shows."""
ROW_SECONDS = 30.0
"""Seconds of a row: a beat is some 30 picture elements wide then."""
MOST_ROWS = 40
"""Rows of the tallest picture; longer songs get rows of twice, three times … as many seconds."""
SHORTEST = 2.0
"""Seconds of the only row of a song that is shorter still."""

LABELS = ((62, 92, 150), (122, 78, 132), (52, 112, 112), (140, 92, 60), (84, 104, 66), (132, 66, 84), (80, 80, 150),
          (110, 110, 70))  # fmt: skip
"""Bands of sections: the same label, the same colour."""
KIND_COLOURS = {
    "quiet": (88, 128, 196),
    "steady": (120, 158, 150),
    "build": (226, 186, 92),
    "high": (240, 128, 88),
    "break": (168, 132, 214),
    "end": (132, 140, 160),
}
DIM, CLEAR = (46, 44, 60), (126, 224, 176)
"""Not sure at all, and quite sure."""
PEAK, MEAN = (66, 84, 128), (150, 176, 226)
"""Of the wave: how far it reaches, and its root mean square."""
GLOW = ((0.0, PAPER), (0.25, (26, 30, 70)), (0.5, (84, 48, 110)), (0.75, (196, 92, 86)), (1.0, (252, 220, 150)))
"""Colours of the spectrum from nothing to its loudest."""


@dataclass(frozen=True)
class HeardSheet:
    """The picture, and where time lies in it."""

    picture: Bytes
    """sRGB (height, width, 3)."""
    left: int
    right: int
    """Columns at which every row begins and ends."""
    row_seconds: float
    rows: int

    def place(self, seconds: float) -> tuple[int, float]:
        """The row, from 0, and the column of a moment of the song."""
        row = min(max(int(seconds / self.row_seconds), 0), self.rows - 1)
        return row, self.left + (seconds / self.row_seconds - row) * (self.right - self.left)

    def top(self, row: int) -> int:
        """The first line of a row."""
        return TOP + row * ROW

    def pieces(self, start: float, end: float) -> list[tuple[int, int, int]]:
        """Row, first and last column of each piece of a stretch of the song (seconds), one a row."""
        found = []
        first, last = (min(max(int(at / self.row_seconds), 0), self.rows - 1) for at in (start, end))
        for row in range(first, last + 1):
            begin, stop = row * self.row_seconds, (row + 1) * self.row_seconds
            if start < stop and end > begin:
                edges = [self.left + (at - begin) / self.row_seconds * (self.right - self.left)
                         for at in (max(start, begin), min(end, stop))]  # fmt: skip
                found.append((row, round(edges[0]), round(edges[1])))
        return found


def heard_picture(
    song: str | Path,
    grid: BeatGrid,
    heard: Reading | None = None,
    width: int = WIDTH,
    events: Events | None = None,
) -> HeardSheet:
    """The picture of a song with ``grid`` and, where given, its ``events``.

    ``heard`` tells how sure the beats are, where they were heard.

    The wave is read from the song block by block, the spectrum is the kept signal. Raises AudioError when the song
    cannot be read.
    """
    from eavesong.music import hear

    signals = hear(song).signals
    rows, row_seconds = _rows(grid.duration)
    picture = np.full((TOP + rows * ROW + BOTTOM, width, 3), PAPER, np.uint8)
    sheet = HeardSheet(picture, LEFT, width - RIGHT, row_seconds, rows)
    _paint_wave(sheet, _wave(song, sheet), grid.duration)
    _paint_bands(sheet, signals.spectrum, signals.frame_rate, grid.duration)
    return _drawn(sheet, Path(song).name, grid, heard, events)


def _rows(duration: float) -> tuple[int, float]:
    """How many rows a song takes, and how many seconds each."""
    if duration <= ROW_SECONDS:
        return 1, max(duration, SHORTEST)
    seconds = ROW_SECONDS * math.ceil(duration / (ROW_SECONDS * MOST_ROWS))
    return math.ceil(duration / seconds), seconds


def _wave(song: str | Path, sheet: HeardSheet) -> Floats:
    """Lowest and highest sample and mean square, (columns of all rows, 3), of any channel."""
    from eavesong.music.sound import open_sound

    span = sheet.right - sheet.left
    wave = np.zeros((sheet.rows * span, 3))
    counts = np.zeros(len(wave))
    with open_sound(song) as sound:
        at = 0
        for block in sound.blocks():
            columns = (at + np.arange(len(block))) * (span / (sheet.row_seconds * sound.rate))
            columns = np.minimum(columns.astype(np.int64), len(wave) - 1)
            starts = np.flatnonzero(np.diff(columns, prepend=-1))
            which = columns[starts]
            wave[which, 0] = np.minimum(wave[which, 0], np.minimum.reduceat(block.min(axis=1), starts))
            wave[which, 1] = np.maximum(wave[which, 1], np.maximum.reduceat(block.max(axis=1), starts))
            wave[which, 2] += np.add.reduceat((block.astype(np.float64) ** 2).mean(axis=1), starts)
            counts[which] += np.diff(np.append(starts, len(block)))
            at += len(block)
    # A recording of few samples a second leaves columns without any: they show what was there last.
    last = np.maximum.accumulate(np.where(counts > 0, np.arange(len(wave)), 0))
    wave[:, 2] /= np.maximum(counts, 1)
    return wave[last]


def _paint_wave(sheet: HeardSheet, wave: Floats, duration: float) -> None:
    """The wave, brought to the height of its row, symmetrical where it is."""
    loudest = max(float(np.abs(wave[:, :2]).max()), 1e-9)
    begin, tall = WAVE
    middle = (tall - 1) / 2
    lines = np.arange(tall)[:, None]
    for row, (first, last) in enumerate(_columns_lit(sheet, duration)):
        part = wave[first:last]
        low, high = middle - part[:, 1] / loudest * middle, middle - part[:, 0] / loudest * middle
        root = np.sqrt(part[:, 2]) / loudest * middle
        here = sheet.picture[sheet.top(row) + begin :, sheet.left : sheet.left + last - first][:tall]
        here[(lines >= np.floor(low)) & (lines <= np.ceil(high))] = PEAK
        here[np.abs(lines - middle) <= root] = MEAN


def _columns_lit(sheet: HeardSheet, duration: float) -> list[tuple[int, int]]:
    """For each row, the columns that the song reaches, counted over all rows."""
    span = sheet.right - sheet.left
    end = min(math.ceil(duration / sheet.row_seconds * span), sheet.rows * span)
    return [(row * span, min((row + 1) * span, end)) for row in range(sheet.rows)]


def _paint_bands(sheet: HeardSheet, spectrum: NDArray[np.uint8], frame_rate: float, duration: float) -> None:
    """The spectrum (f, 32), low pitches at the bottom; each column the loudest of its frames."""
    begin, tall = BANDS
    span = sheet.right - sheet.left
    stops, colours = np.array([stop for stop, _ in GLOW]), np.array([colour for _, colour in GLOW])
    shades = [np.interp(np.arange(256) / 255, stops, channel) for channel in colours.T]
    table = np.stack(shades, axis=1).astype(np.uint8)
    bands = np.repeat(np.arange(spectrum.shape[1])[::-1], tall // spectrum.shape[1])
    for row, (first, last) in enumerate(_columns_lit(sheet, duration)):
        edges = np.arange(first, last + 1) * (sheet.row_seconds / span * frame_rate)
        starts = np.clip(edges[:-1].astype(np.int64), 0, len(spectrum) - 1)
        stop = min(int(edges[-1]) + 1, len(spectrum))
        part = spectrum[: max(stop, int(starts[-1]) + 1)]
        # reduceat gives the frame itself where a column is narrower than a frame.
        loudest = np.maximum.reduceat(part, starts, axis=0)
        top = sheet.top(row) + begin
        sheet.picture[top : top + tall, sheet.left : sheet.left + last - first] = table[loudest[:, bands].T]


def _drawn(sheet: HeardSheet, name: str, grid: BeatGrid, heard: Reading | None, events: Events | None) -> HeardSheet:
    from PIL import Image, ImageDraw

    image = Image.fromarray(sheet.picture)
    pen = ImageDraw.Draw(image, "RGBA")
    _draw_head(pen, sheet, name, grid, heard)
    _draw_times(pen, sheet, grid.duration)
    _draw_sections(pen, sheet, grid)
    _draw_beats(pen, sheet, grid)
    if events:
        draw_events(pen, sheet, events)
    if heard:
        _draw_sureness(pen, sheet, grid, heard.sure)
    return replace(sheet, picture=np.asarray(image))


def _draw_head(pen: Any, sheet: HeardSheet, name: str, grid: BeatGrid, heard: Reading | None) -> None:
    """What song this is, what was heard in it, and what the strip's colours mean."""
    from eavesong.music import describe, word_for

    told = dict(line.split(None, 1) for line in describe(grid).splitlines()[:5])
    short = name if len(name) <= 60 else name[:59] + "…"
    pen.text((sheet.left, 10), short, fill=TEXT, font=font(20))
    words = [told["length"], f"{told['tempo']}", f"{told['bars'].partition(',')[0]} bars", told["metre"]]
    pen.text((sheet.left, 36), "  ·  ".join(words), fill=FAINT, font=font(14))
    if heard is None:
        return
    right = sheet.right
    pen.text((right, 10), word_for(heard.confidence), fill=TEXT, font=font(20), anchor="ra")
    for step in range(100):
        pen.line((right - 135 + step, 42, right - 135 + step, 48), fill=_between(step / 99))
    pen.text((right - 142, 45), "a guess", fill=FAINT, font=font(13), anchor="rm")
    pen.text((right, 45), "sure", fill=FAINT, font=font(13), anchor="rm")


def _draw_times(pen: Any, sheet: HeardSheet, duration: float) -> None:
    """A tick for every second where there is room, the time for some, and the names of what is shown."""
    wide = (sheet.right - sheet.left) / sheet.row_seconds
    named = next((step for step in (0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60) if step * wide >= 64), 120.0)
    ticks = named / 5
    for number in range(math.floor(duration / ticks + 1e-9) + 1):
        row, at = sheet.place(number * ticks)
        x, y, long = round(at), sheet.top(row) + TIMES[0], number % 5 == 0
        pen.line((x, y, x, y + (4 if long else 2)), fill=(*FAINT, 255 if long else 120))
        if long:
            pen.text((x + 3, y + 2), clock_text(number * ticks, 1 if named < 1 else 0), fill=FAINT, font=font(12))
    for row in range(sheet.rows):
        named_parts = ((NUMBERS, "bar"), (WAVE, "wave"), (BANDS, "pitch"), (STROKES, "strokes"), (LEAD, "lead"),
                       (SPANS, "events"), (TIMES, "time"))  # fmt: skip
        for (above, tall), word in named_parts:
            middle = sheet.top(row) + above + tall / 2
            pen.text((sheet.left - 9, middle), word, fill=(*FAINT, 170), font=font(12), anchor="rm")


def _draw_sections(pen: Any, sheet: HeardSheet, grid: BeatGrid) -> None:
    """A band for each section, row by row, with its label, and below it a thin one with the colour of its kind."""
    labels = list(dict.fromkeys(section.label for section in grid.sections))
    for section in grid.sections:
        colour = LABELS[labels.index(section.label) % len(LABELS)]
        for row, left, right in sheet.pieces(section.start, min(section.end, grid.duration)):
            y = sheet.top(row) + PARTS[0]
            last = max(left, right - 2)  # a section may end just after a row begins
            pen.rectangle((left, y, last, y + PARTS[1] - 5), fill=colour)
            if section.kind:
                pen.rectangle((left, y + PARTS[1] - 4, last, y + PARTS[1] - 1), fill=KIND_COLOURS[section.kind])
            words = _fitting(pen, section, right - left - 10)
            pen.text((left + 6, y + 6), words, fill=TEXT, font=font(12), anchor="lm")


def _fitting(pen: Any, section: Section, room: float) -> str:
    """Label and kind, the label alone, or as much of it as there is room for."""
    both = f"{section.label} · {section.kind}" if section.kind else section.label
    shorter = (section.label[:count] + "…" for count in range(len(section.label) - 1, 0, -1))
    for words in (both, section.label, *shorter):
        if pen.textlength(words, font=font(12)) <= room:
            return words
    return ""


def _draw_beats(pen: Any, sheet: HeardSheet, grid: BeatGrid) -> None:
    """Short ticks on beats; on downbeats tall ones, a line through the sound, and the number of the bar."""
    wide = (sheet.right - sheet.left) / sheet.row_seconds
    beat, bar = (wide * float(np.median(np.diff(times))) if len(times) > 1 else wide
                 for times in (grid.times, grid.downbeats))  # fmt: skip
    every = next((step for step in (1, 2, 4, 8, 16, 32) if step * bar > 30), 64)
    number, end = 0, sheet.rows * sheet.row_seconds
    for time, position in zip(grid.times, grid.positions, strict=True):
        number += position == 1
        if time > min(end, grid.duration):
            continue
        row, at = sheet.place(time)
        x, y = round(at), sheet.top(row)
        if position == 1:
            pen.line((x, y + TICKS[0], x, y + TICKS[0] + TICKS[1] - 1), fill=ACCENT)
            pen.line((x, y + WAVE[0], x, y + BANDS[0] + BANDS[1] - 1), fill=(*ACCENT, 120 if bar > 8 else 40))
            if (number - 1) % every == 0:
                pen.text((x + 1, y + NUMBERS[0] + NUMBERS[1] - 2), str(number), fill=ACCENT, font=font(13), anchor="ls")
        elif beat > 4:
            pen.line((x, y + TICKS[0] + 5, x, y + TICKS[0] + TICKS[1] - 1), fill=(*TEXT, 190))
            pen.line((x, y + WAVE[0], x, y + BANDS[0] + BANDS[1] - 1), fill=(*TEXT, 44 if beat > 12 else 0))


def _draw_sureness(pen: Any, sheet: HeardSheet, grid: BeatGrid, sure: tuple[float, ...]) -> None:
    """The strip below the sound: from beat to beat, the clearer the surer."""
    edges = [0.0, *((a + b) / 2 for a, b in zip(grid.times, grid.times[1:], strict=False)), grid.duration]
    for begin, end, each in zip(edges, edges[1:], sure, strict=False):
        for row, left, right in sheet.pieces(begin, min(end, grid.duration)):
            y = sheet.top(row) + SURENESS[0]
            pen.rectangle((left, y, max(right - 1, left), y + SURENESS[1] - 1), fill=_between(each))


def _between(share: float) -> tuple[int, int, int]:
    """The colour of how sure something is, 0 to 1."""
    red, green, blue = (round(a + (b - a) * min(max(share, 0.0), 1.0)) for a, b in zip(DIM, CLEAR, strict=True))
    return red, green, blue
