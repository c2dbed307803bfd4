"""A layout as a drawing: seen from the street or from above, props named, metres to measure by."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from eavesong.errors import OutputError, Problem
from eavesong.files import write_whole
from eavesong.layout.house import Layout
from eavesong.layout.lengths import FEET
from eavesong.layout.paint import Circle, Colour, Dots, Figure, Lines, Mark, Words, mixed, to_png, to_svg
from eavesong.layout.size import units_in
from eavesong.words import METRES

WIDTH, TALLEST = 1600, 1300
MARGIN, HEAD, FOOT = 70, 96, 84
"""Drawing units left free at the sides, above for the title and below for the scale."""

GROUND: Colour = (15, 19, 28)
EARTH: Colour = (58, 66, 82)
QUIET: Colour = (126, 138, 158)
PLAIN: Colour = (222, 228, 238)
BRIGHT: Colour = (255, 255, 255)
HUES: tuple[Colour, ...] = (
    (244, 196, 118), (126, 196, 232), (240, 142, 128), (150, 214, 156),
    (196, 160, 236), (236, 226, 150), (116, 214, 204), (240, 160, 204),
)  # fmt: skip
"""Soft colours given to the entries of the file in turn."""

LABEL = 15.0
"""Size of the props' names."""

UNLIT = 0.7
"""Share of the ground in the colour of props that are meant to stay dark."""

VIEWS = ("front", "plan")


Box = tuple[float, float, float, float]


@dataclass(frozen=True, eq=False)
class _Group:
    """The members of one entry of the file, as they are drawn."""

    name: str
    hue: Colour
    pixels: NDArray[np.int64]
    points: NDArray[np.float64]
    starts: NDArray[np.float64]
    boxes: tuple[Box, ...]
    """Left, top, right and bottom of each member."""


def save_drawing(layout: Layout, path: str | Path, view: str = "front") -> None:
    """Draw ``layout`` to ``path``, an .svg or .png file; ``view`` is ``front`` or ``plan``.

    Raises OutputError when the file name ends otherwise or the place cannot be written to.
    """
    kind = Path(path).suffix.lower()
    if kind not in (".svg", ".png"):
        found = f"'{kind}' is no kind of drawing" if kind else "the name says no kind of drawing"
        raise OutputError(Problem(str(path), "", found, "End the name with .svg or .png."))
    figure = draw(layout, view)
    write_whole(path, to_svg(figure) if kind == ".svg" else to_png(figure))


def draw(layout: Layout, view: str = "front") -> Figure:
    """The drawing of ``layout`` from the street (``front``), or from above with the street below (``plan``)."""
    paper = _Paper.around(layout, view)
    groups = _groups(layout, paper)
    dot = _dot_size(groups)
    marks: list[Mark] = [*_surroundings(paper)]
    marks += [Dots(group.points, 3.2 * dot, mixed(group.hue, GROUND, 0.86)) for group in groups]
    marks += [Lines(_wire(layout, group), 1.0, mixed(group.hue, GROUND, 0.62)) for group in groups]
    marks += [Dots(group.points, dot, group.hue) for group in groups]
    marks += [Circle(x, y, dot + 5, 1.4, BRIGHT) for group in groups for x, y in group.starts]
    marks += [*_labels(groups, paper), *_captions(layout, paper)]
    return Figure(WIDTH, paper.height, GROUND, tuple(marks))


@dataclass(frozen=True)
class _Paper:
    """How metres come to the paper."""

    scale: float
    left: float
    top: float
    height: int
    view: str
    upper: float
    """Metres at the upper edge of the drawing: height, or depth from the back."""
    level: float
    """Metres, likewise, at the ground line, or at the street side of the frame."""

    @classmethod
    def around(cls, layout: Layout, view: str) -> _Paper:
        """The paper for a view, ``front`` or ``plan``, of a whole layout, with room for words."""
        metres = _metres(layout, view)
        low, high = metres.min(axis=0), metres.max(axis=0)
        if view == "front":
            low[1] = min(low[1], -layout.frame.origin[1])
        level = -layout.frame.origin[1] if view == "front" else layout.frame.size[2]
        high[1] = max(high[1], level)
        wide, tall = np.maximum(high - low, 1e-6)
        scale = min((WIDTH - 2 * MARGIN) / max(wide, 0.5), (TALLEST - HEAD - FOOT - 2 * MARGIN) / max(tall, 0.5))
        height = round(max(tall * scale + HEAD + FOOT + 2 * MARGIN, 420))
        left = (WIDTH - wide * scale) / 2 - low[0] * scale
        slack = height - HEAD - FOOT - tall * scale
        upper = high[1] if view == "front" else low[1]
        return cls(scale, left, HEAD + slack / 2, height, view, upper, float(level))

    @property
    def ground(self) -> float:
        """Drawing units of the ground line, or of the street side: a little below what stands there."""
        return float(self.put(np.array([[0.0, self.level]]))[0, 1]) + (6 if self.view == "front" else 18)

    def put(self, metres: NDArray[np.float64]) -> NDArray[np.float64]:
        """Drawing units (k, 2) of ``metres`` (k, 2): to the right, and upwards or towards the street."""
        down = (self.upper - metres[:, 1]) if self.view == "front" else (metres[:, 1] - self.upper)
        return np.stack([self.left + metres[:, 0] * self.scale, self.top + down * self.scale], axis=1)


def _metres(layout: Layout, view: str) -> NDArray[np.float64]:
    second = layout.pixels.Y if view == "front" else layout.pixels.Z
    return np.stack([layout.pixels.X, second], axis=1).astype(np.float64)


def _groups(layout: Layout, paper: _Paper) -> list[_Group]:
    """The entries of the file, farthest first; what stands far off is drawn fainter."""
    points = paper.put(_metres(layout, paper.view))
    members: dict[str, list[int]] = {}
    for index, prop in enumerate(layout.props):
        members.setdefault(prop.member_of, []).append(index)
    depth = layout.pixels.z if paper.view == "front" else layout.pixels.y
    begins = {run.prop: run.first_pixel for run in reversed(layout.patch.runs)}  # where data comes in first
    groups = []
    for number, (name, indices) in enumerate(members.items()):
        props = [layout.props[index] for index in indices]
        pixels = np.concatenate([np.arange(prop.start, prop.stop) for prop in props])
        far = float(depth[pixels].mean())
        hue = mixed(HUES[number % len(HUES)], GROUND, 0.42 * (1 - far))
        if not any(prop.lit for prop in props):
            hue = mixed(PLAIN, GROUND, UNLIT)
        label = f"{name} ({len(props)})" if len(props) > 1 else name
        label += "" if any(prop.lit for prop in props) else ", unlit"
        starts = points[[begins.get(prop.name, prop.start) for prop in props]]
        boxes = tuple(_box(points[prop.start : prop.stop]) for prop in props)
        groups.append((far, _Group(label, hue, pixels, points[pixels], starts, boxes)))
    return [group for _, group in sorted(groups, key=lambda pair: pair[0])]


def _box(points: NDArray[np.float64]) -> Box:
    (left, top), (right, bottom) = points.min(axis=0), points.max(axis=0)
    return float(left), float(top), float(right), float(bottom)


def _dot_size(groups: Sequence[_Group]) -> float:
    """Dots as large as the usual distance between pixels allows, 2.6 to 7 units."""
    gaps = np.concatenate([np.linalg.norm(np.diff(group.points, axis=0), axis=1) for group in groups])
    gaps = gaps[gaps > 0.3]
    return float(np.clip(0.6 * np.median(gaps), 2.6, 7.0)) if len(gaps) else 7.0


def _wire(layout: Layout, group: _Group) -> NDArray[np.float64]:
    """Strokes (k, 4) between neighbours on a wire, jumps from strand to strand left out."""
    pixels = layout.pixels
    reach = np.sqrt(pixels.step["X"] ** 2 + pixels.step["Y"] ** 2 + pixels.step["Z"] ** 2)[group.pixels]
    places = np.stack([pixels.X, pixels.Y, pixels.Z], axis=1)[group.pixels]
    gap = np.linalg.norm(np.diff(places, axis=0), axis=1)
    near = (gap < 2.5 * np.maximum(reach[1:], reach[:-1])) & (np.diff(pixels.prop[group.pixels]) == 0)
    segments: NDArray[np.float64] = np.concatenate([group.points[:-1], group.points[1:]], axis=1)[near]
    return segments


def _surroundings(paper: _Paper) -> Iterator[Mark]:
    """The ground seen from the street; the front edge of the frame seen from above."""
    left, right = MARGIN / 2, WIDTH - MARGIN / 2
    yield Lines(np.array([[left, paper.ground, right, paper.ground]]), 1.5, EARTH)
    if paper.view == "plan":
        yield Words(right, paper.ground + 18, "street side", 13, QUIET, "end")


def _captions(layout: Layout, paper: _Paper) -> Iterator[Mark]:
    """The title, what is shown, the scale and what the circles mean."""
    seen = "seen from the street" if paper.view == "front" else "seen from above"
    counts = f"{layout.pixel_count:,} pixels in {len(layout.props):,} props, {seen}"
    yield Words(MARGIN / 2, 44, layout.title, 26, PLAIN)
    yield Words(MARGIN / 2, 70, counts, 15, QUIET)
    unit, of_unit = ("ft", METRES["ft"]) if units_in(layout.text) in FEET else ("m", 1.0)
    length = _round_length(180 / paper.scale / of_unit)
    right, y = WIDTH - MARGIN / 2, paper.height - 34.0
    left = right - length * of_unit * paper.scale
    bar = [[left, y, right, y], [left, y - 5, left, y + 5], [right, y - 5, right, y + 5]]
    yield Lines(np.array(bar), 1.5, QUIET)
    yield Words((left + right) / 2, y - 10, f"{length:g} {unit}", 14, QUIET, "middle")
    yield Circle(MARGIN / 2 + 6, y - 4, 10, 1.4, BRIGHT)
    yield Words(MARGIN / 2 + 20, y + 1, "where the wire begins", 14, QUIET)


def _round_length(metres: float) -> float:
    """The largest of 1, 2, 5, 10, … that is not above ``metres``."""
    ten = 10.0 ** math.floor(math.log10(metres))
    return max(step * ten for step in (1, 2, 5) if step * ten <= metres * 1.0001)


def _labels(groups: Sequence[_Group], paper: _Paper) -> Iterator[Mark]:
    """Names beside their props, each where it covers the fewest dots and no other name."""
    ground = np.linspace((0.0, paper.ground), (WIDTH, paper.ground), WIDTH // 4)
    crowd = _Crowd(paper.height, np.concatenate([ground, *(group.points for group in groups)]))
    for group in sorted(groups, key=lambda group: group.boxes[0][3] - group.boxes[0][1], reverse=True):
        x, y, width = crowd.find_room(group)
        colour = mixed(group.hue, PLAIN, 0.45)
        yield from _leader(group, x, y, width)
        yield Words(x + width / 2, y + LABEL * 0.8, group.name, LABEL, colour, "middle")


def _leader(group: _Group, x: float, y: float, width: float) -> Iterator[Mark]:
    """A fine stroke from a name that stands apart to the nearest of the prop's pixels."""
    middle = np.array([x + width / 2, y + LABEL / 2])
    near = group.points[np.argmin(np.linalg.norm(group.points - middle, axis=1))]
    touch = np.clip(near, [x, y], [x + width, y + LABEL])
    if np.linalg.norm(near - touch) > 1.4 * LABEL:
        yield Lines(np.array([[*touch, *near]]), 0.8, mixed(group.hue, GROUND, 0.5))


class _Crowd:
    """Where on the paper there is something already."""

    CELL = 5.0

    def __init__(self, height: int, points: NDArray[np.float64]) -> None:
        self.height = height
        cells = np.zeros((int(height / self.CELL) + 2, int(WIDTH / self.CELL) + 2))
        at = np.clip((points / self.CELL).astype(int) + 1, 1, np.array(cells.shape[::-1]) - 1)
        cells[at[:, 1], at[:, 0]] = 1
        self.summed = cells.cumsum(axis=0).cumsum(axis=1)
        self.taken: list[Box] = []

    def find_room(self, group: _Group) -> tuple[float, float, float]:
        """Left, top and width of the best place for the group's name, which is then taken."""
        width = 0.54 * LABEL * len(group.name) + 4
        places = [place for box in group.boxes[:12] for place in _places_beside(box, width)]
        costs = [self._cost(x, y, width) + 0.05 * away for x, y, away in places]
        x, y, _ = places[int(np.argmin(costs))]
        self.taken.append((x, y, x + width, y + LABEL))
        return x, y, width

    def _cost(self, x: float, y: float, width: float) -> float:
        right, bottom = x + width, y + LABEL
        if x < 8 or y < HEAD - 12 or right > WIDTH - 8 or bottom > self.height - FOOT + 14:
            return 1e6
        clashes = sum(x < c + 6 and a < right + 6 and y < d + 3 and b < bottom + 3 for a, b, c, d in self.taken)
        left, upper, r, d = (int(side / self.CELL) for side in (x, y, right, bottom))
        dots = self.summed[d + 1, r + 1] - self.summed[upper, r + 1] - self.summed[d + 1, left]
        return 1e4 * clashes + float(dots + self.summed[upper, left])


def _places_beside(box: Box, width: float) -> Iterator[tuple[float, float, float]]:
    """Left, top and distance of places for a name round a ``box``, the nearest first; then its middle."""
    left, top, right, bottom = box
    middle, level = (left + right - width) / 2, (top + bottom - LABEL) / 2
    for away in (6, 14, 24, 36, 50, 66, 84, 104, 130):
        above, below = top - LABEL - away, bottom + away
        yield middle, above, away
        yield middle, below, away
        yield right + away, level, away
        yield left - width - away, level, away
        for slide in (left, right - width, left - width / 2, right - width / 2):
            yield slide, above, away + 2
            yield slide, below, away + 2
        for slide in (top, bottom - LABEL):
            yield right + away, slide, away + 2
            yield left - width - away, slide, away + 2
    yield middle, level, 60
