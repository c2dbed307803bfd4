"""The score picture: every pixel of a house against time, with beats, bars, sections and cues drawn along it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from eavesong.colours import srgb_encode
from eavesong.preview.ink import ACCENT, FAINT, PAPER, TEXT, font
from eavesong.scene.reopen import Reopened
from eavesong.words import song_and_show

if TYPE_CHECKING:
    from eavesong.frames import PropRow

Bytes = NDArray[np.uint8]

LABELS = 176
"""Picture elements left of the rows, for the props' names."""
RIGHT, TOP, ROW_GAP = 18, 64, 2
LANE = 19
"""Height of a cue's lane."""
LEAST, MOST = 520, 1500
"""Height of the rows of pixels."""
EXPOSURE = 1.6
PARTS = ((34, 44, 74), (44, 36, 66))


@dataclass(frozen=True)
class Sheet:
    """A score picture and where time and props lie in it."""

    picture: Bytes
    """sRGB (height, width, 3)."""
    left: int
    right: int
    """Columns of the first moment and of the end."""
    start: float
    end: float
    """Seconds of the song."""
    rows: tuple[tuple[str, int, int], ...]
    """Each prop's name and its rows of the picture, from the first up to but not including the last."""

    def column(self, seconds: float) -> float:
        """The column at which a moment lies."""
        return self.left + (seconds - self.start) / (self.end - self.start) * (self.right - self.left)


def score_picture(source: Reopened, start: float | None = None, end: float | None = None, width: int = 2000) -> Sheet:
    """The score picture of a frames file from ``start`` to ``end`` seconds, all of it where they are None.

    Pixels run downwards, prop after prop in the order of the layout and along each wire. Frames are read a few at a
    time. Raises FramesError when no frame lies in that time.
    """
    from eavesong.preview.film import frames_between

    begin = source.frames.start if start is None else start
    finish = source.end if end is None else end
    numbers = frames_between(source, begin, finish)
    props = _rows(source)
    tall = TOP + props[-1][2]
    lanes = _lanes(source, begin, finish)
    picture = np.full((tall + 14 + LANE * len(lanes) + 16, width, 3), PAPER, np.uint8)
    sheet = Sheet(
        picture, LABELS, width - RIGHT, begin, finish, tuple((row.name, TOP + a, TOP + b) for row, a, b in props)
    )
    _paint_light(sheet, source, numbers, props)
    return _drawn(sheet, source, lanes, tall)


def _rows(source: Reopened) -> list[tuple[PropRow, int, int]]:
    """Each prop with its first and end row, so that all fit: at least a row each, more for more pixels."""
    props = [row for row in source.frames.props if row.pixel_count]
    total = sum(row.pixel_count for row in props)
    room = min(max(total, LEAST, 6 * len(props)), MOST)
    out, at = [], 0
    for row in props:
        tall = max(2, round(row.pixel_count / total * room))
        out.append((row, at, at + tall))
        at += tall + ROW_GAP
    return out


def _paint_light(sheet: Sheet, source: Reopened, numbers: range, props: list[tuple[PropRow, int, int]]) -> None:
    """The mean light of the frames of each column and the pixels of each row."""
    span = sheet.right - sheet.left
    total = np.zeros((props[-1][2], span, 3), np.float32)
    weight = np.zeros(span, np.float32)
    columns = _columns(source, sheet, numbers)
    for first, block in _blocks(source, numbers):
        light = block.astype(np.float32) / np.float32(255)
        for row, top, bottom in props:
            shrunk = _resampled(light[:, row.first_pixel : row.first_pixel + row.pixel_count], bottom - top)
            for frame in range(len(block)):
                begin, stop = columns[first + frame - numbers.start]
                total[top:bottom, begin:stop] += shrunk[frame][:, None]
        for frame in range(len(block)):
            begin, stop = columns[first + frame - numbers.start]
            weight[begin:stop] += 1
    mean = total / np.maximum(weight, 1)[None, :, None]
    shown = srgb_encode(1 - np.exp(-EXPOSURE * mean)) * 255
    for _, top, bottom in props:
        sheet.picture[TOP + top : TOP + bottom, sheet.left : sheet.right] = np.round(shown[top:bottom])


def _columns(source: Reopened, sheet: Sheet, numbers: range) -> list[tuple[int, int]]:
    """The columns in which each frame is seen: one at least, all until the next frame where frames are few."""
    edges = [sheet.column(source.frames.seconds(number)) - sheet.left for number in [*numbers, numbers.stop]]
    span = sheet.right - sheet.left
    out = []
    for a, b in pairwise(edges):
        begin = min(max(int(a), 0), span - 1)
        out.append((begin, min(max(int(b), begin + 1), span)))
    return out


def _blocks(source: Reopened, numbers: range) -> Iterator[tuple[int, Bytes]]:
    size = max(1, (12 << 20) // max(1, 3 * len(source.metres)))
    for first in range(numbers.start, numbers.stop, size):
        yield first, source.light(first, min(first + size, numbers.stop))


def _resampled(light: NDArray[np.float32], rows: int) -> NDArray[np.float32]:
    """(f, n, 3) to (f, rows, 3): means where rows hold several pixels, the same pixel where it takes several rows."""
    count = light.shape[1]
    edges = (np.arange(rows) * count) // rows
    if rows >= count:
        return light[:, edges]
    sums = np.add.reduceat(light, edges, axis=1)
    return np.asarray(sums / np.diff(np.append(edges, count))[None, :, None], np.float32)


def _lanes(source: Reopened, start: float, end: float) -> list[tuple[str, list[tuple[float, float]]]]:
    """The cues that are on in that time, topmost first, and their spans."""
    out = []
    for cue in reversed(source.cues):
        spans = [(span.start, span.end) for span in cue.spans if span.end > start and span.start < end]
        if spans:
            out.append((cue.name.partition(" '")[2].removesuffix("'") or cue.name, spans))
    return out


def _drawn(sheet: Sheet, source: Reopened, lanes: list[tuple[str, list[tuple[float, float]]]], tall: int) -> Sheet:
    from dataclasses import replace

    from PIL import Image, ImageDraw

    image = Image.fromarray(sheet.picture)
    pen = ImageDraw.Draw(image, "RGBA")
    _draw_names(pen, sheet)
    _draw_sections(pen, sheet, source)
    _draw_beats(pen, sheet, source, tall)
    _draw_cues(pen, sheet, lanes, tall + 14)
    words = f"{song_and_show(source.frames.title, source.frames.song)} · {source.house_title}"
    pen.text((LABELS, 6), words, fill=TEXT, font=font(15))
    return replace(sheet, picture=np.asarray(image))


def _draw_names(pen: Any, sheet: Sheet) -> None:
    """Props' names, left of their rows; those that would lie on the one before are left out."""
    free = 0.0
    for name, top, bottom in sheet.rows:
        middle = (top + bottom) / 2
        if middle - 7 >= free:
            pen.text((LABELS - 8, middle), _fitting(pen, name), fill=FAINT, font=font(13), anchor="rm")
            free = middle + 8


def _fitting(pen: Any, name: str) -> str:
    """The name, or as much of its beginning and its end as there is room for: names often differ at one of them."""
    room, short = LABELS - 12, name
    for kept in range(len(name) - 1, 2, -1):
        if pen.textlength(short, font=font(13)) <= room:
            break
        short = f"{name[: kept - kept // 2]}…{name[len(name) - kept // 2 :]}"
    return short


def _draw_sections(pen: Any, sheet: Sheet, source: Reopened) -> None:
    sections = source.grid.sections if source.grid else ()
    for number, part in enumerate(sections):
        left, right = (min(max(sheet.column(at), sheet.left), sheet.right) for at in (part.start, part.end))
        if right - left < 1:
            continue
        pen.rectangle((left, 25, right - 1, 41), fill=PARTS[number % 2])
        if pen.textlength(part.label, font=font(13)) < right - left - 8:
            pen.text((left + 5, 33), part.label, fill=TEXT, font=font(13), anchor="lm")


def _draw_beats(pen: Any, sheet: Sheet, source: Reopened, tall: int) -> None:
    """A faint line through the rows for each bar, its number above, and a tick for each beat where there is room."""
    grid = source.grid
    if grid is None:
        return
    bars = [(number, at) for number, at in enumerate(grid.downbeats, 1) if sheet.start <= at <= sheet.end]
    wide = (sheet.right - sheet.left) / max(1, len(bars))
    every = next((step for step in (1, 2, 4, 8, 16, 32) if step * wide > 26), 64)
    if wide > 12:
        for at in grid.times:
            if sheet.start <= at <= sheet.end:
                x = round(sheet.column(at))
                pen.line((x, TOP - 6, x, TOP - 3), fill=(*TEXT, 110))
    for number, at in bars:
        x = round(sheet.column(at))
        pen.line((x, TOP - 8, x, TOP - 2), fill=(*TEXT, 255))
        pen.line((x, TOP, x, tall), fill=(*TEXT, 46))
        if (number - 1) % every == 0:
            pen.text((x + 2, TOP - 12), str(number), fill=FAINT, font=font(12), anchor="ls")


def _draw_cues(pen: Any, sheet: Sheet, lanes: list[tuple[str, list[tuple[float, float]]]], top: int) -> None:
    for lane, (name, spans) in enumerate(lanes):
        y = top + lane * LANE
        pen.text((LABELS - 8, y + LANE / 2), _fitting(pen, name), fill=FAINT, font=font(13), anchor="rm")
        for start, end in spans:
            left, right = (min(max(sheet.column(at), sheet.left), sheet.right) for at in (start, end))
            pen.rectangle((left, y + 3, max(right - 1, left + 1), y + LANE - 3), fill=(*ACCENT, 150))
