"""The photo with what was found drawn into it: props where they will hang, points with their error ellipses."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import numpy as np

from eavesong.errors import OutputError, Problem, SurveyError, advise
from eavesong.files import write_whole
from eavesong.survey.camera import Lens
from eavesong.survey.known import Floats
from eavesong.survey.photo import opened
from eavesong.survey.read import Read
from eavesong.survey.solution import Solution
from eavesong.survey.write import entries, told

WIDEST = 2400
"""Picture elements of the drawing's longer side."""
KINDS = {".png": "PNG", ".jpg": "JPEG", ".jpeg": "JPEG", ".webp": "WEBP"}
DIM = 0.62
"""Share of the photo's light that is left below the drawing."""
PLAIN = (38, 46, 58)
"""In the photo's place where it is not at hand."""
LIGHT, HALO = (255, 214, 140), (20, 16, 8)
MARK, DOUBTED = (120, 220, 255), (255, 110, 110)
ELLIPSE_95 = 5.991
"""Chi squared with two degrees of freedom that holds 95 of 100."""
Box = tuple[float, float, float, float]
NEAREST = 0.3
"""Metres before the camera below which nothing is drawn."""


def check_picture(read: Read, solution: Solution, path: str | Path, photo: str | None = None) -> None:
    """Draw what was found into a photo and write it to ``path``: .png, .jpg or .webp.

    photo: its name, the first if not given. Pixels of the props are dots; a cross is where a point was clicked, the
    ellipse round it is where the point may be, 95 of 100, as seen from the camera. Raises OutputError or SurveyError.
    """
    kind = KINDS.get(Path(path).suffix.lower())
    if kind is None:
        raise OutputError(
            Problem(str(path), "", "the name says no kind of picture", "End it with .png, .jpg or .webp.")
        )
    view = _view(read, solution, photo)
    drawing = _Drawing(read, solution, view)
    drawing.props()
    drawing.points()
    drawing.key()
    out = io.BytesIO()
    drawing.picture.save(out, kind, quality=88)
    write_whole(path, out.getvalue())


def _view(read: Read, solution: Solution, photo: str | None) -> int:
    names = [view.name for view in solution.known.views]
    if photo is None:
        return 0
    if photo not in names and (stem := Path(photo).stem) in names:
        photo = stem
    if photo not in names:
        raise SurveyError(Problem(str(read.path), "", f"no photo is called '{photo}'", advise(photo, names, "photo")))
    return names.index(photo)


class _Drawing:
    """One picture being drawn; places are those of the photo."""

    def __init__(self, read: Read, solution: Solution, view: int) -> None:
        from PIL import ImageDraw, ImageFont

        self.read, self.solution, self.view = read, solution, view
        self.lens: Lens = solution.lens(view)
        about = solution.known.views[view]
        self.scale = min(1.0, WIDEST / max(about.width, about.height))
        self.size = (round(about.width * self.scale), round(about.height * self.scale))
        self.picture = self._photo()
        self.pen: Any = ImageDraw.Draw(self.picture, "RGBA")
        self.unit = max(self.size) / 1200
        self.named: list[Box] = []
        self.font = ImageFont.load_default(size=max(11.0, 15 * self.unit))

    def _photo(self) -> Any:
        from PIL import Image, ImageEnhance, ImageOps

        path = self.read.photo_path(self.view)
        if not path.exists():
            return Image.new("RGB", self.size, PLAIN)
        with opened(path, path.name) as photo:
            upright = ImageOps.exif_transpose(photo).convert("RGB").resize(self.size)
        return ImageEnhance.Brightness(upright).enhance(DIM)

    def _dot(self, place: Floats, radius: float, **how: Any) -> None:
        x, y = place * self.scale
        self.pen.ellipse([x - radius, y - radius, x + radius, y + radius], **how)

    def props(self) -> None:
        """The pixels of all props, as the layout has them."""
        for places in _pixels(self.read, self.solution):
            before = places[self.lens.depth(places) > NEAREST]
            for place in self.lens.see(before):
                self._dot(place, 2.6 * self.unit, fill=(*HALO, 150))
            for place in self.lens.see(before):
                self._dot(place, 1.5 * self.unit, fill=LIGHT)

    def points(self) -> None:
        """Every point with its ellipse and name; clicks of this photo as crosses."""
        known = self.solution.known
        doubted = {known.click_point[doubt.index] for doubt in self.solution.doubts if doubt.kind == "clicks"}
        for point, name in enumerate(known.points):
            place = self.solution.points[point]
            if self.lens.depth(place[None])[0] < NEAREST:
                continue
            colour = DOUBTED if point in doubted else MARK
            seen = self.lens.see(place[None])[0]
            block = slice(3 * point, 3 * point + 3)
            self.pen.line(self._ellipse(place, self.solution.covariance[block, block]), fill=colour,
                          width=max(1, round(1.4 * self.unit)))  # fmt: skip
            self._name(seen, f"{name} ± {told(self.solution.bar(point), self.read.survey.units)}", colour)
        for click in np.flatnonzero(known.click_view == self.view):
            self._cross(known.clicks[click])

    def _ellipse(self, place: Floats, covariance: Floats) -> list[tuple[float, float]]:
        """The outline of where a point may be, as seen."""
        _, by_seen, _ = self.lens.slopes(place[None])
        slope = by_seen[0] @ self.lens.turn
        sizes, ways = np.linalg.eigh(slope @ covariance @ slope.T)
        angle = np.linspace(0, 2 * np.pi, 49)
        circle = np.stack([np.cos(angle), np.sin(angle)])
        outline = (ways * np.sqrt(np.maximum(sizes, 0) * ELLIPSE_95)) @ circle
        return [tuple(each) for each in ((self.lens.see(place[None])[0] + outline.T) * self.scale).tolist()]

    def _cross(self, place: Floats) -> None:
        (x, y), arm = place * self.scale, 5 * self.unit
        for dx, dy in ((arm, 0), (0, arm)):
            self.pen.line([x - dx, y - dy, x + dx, y + dy], fill=(255, 255, 255), width=1)

    def _name(self, place: Floats, text: str, colour: tuple[int, int, int]) -> None:
        """A name beside a place: where it covers the least of the names before it."""
        _, top, wide, tall = self.pen.textbbox((0, 0), text, font=self.font)
        (x, y), gap = place * self.scale, 8 * self.unit
        boxes = []
        for across in (x + gap, x - gap - wide):
            for down in (y - gap - tall, y + gap, y - gap - 2 * tall, y + gap + tall):
                left = min(max(across, 0), self.size[0] - wide)
                upper = min(max(down, 0), self.size[1] - tall)
                boxes.append((left - 2, upper + top - 2, left + wide + 2, upper + tall + 2))
        box = min(boxes, key=lambda box: sum(_shared(box, other) for other in self.named))
        self.named.append(box)
        self.pen.rectangle(box, fill=(8, 12, 18, 140))
        self.pen.text((box[0] + 2, box[1] + 2 - top), text, font=self.font, fill=colour)

    def key(self) -> None:
        """What is what."""
        text = "cross: clicked   ellipse: where the point may be, 19 of 20, as seen from here   dots: pixels"
        width = self.pen.textlength(text, font=self.font)
        height = 22 * self.unit
        self.pen.rectangle([0, self.size[1] - height, width + 16, self.size[1]], fill=(8, 12, 18, 200))
        self.pen.text((8, self.size[1] - height + 2 * self.unit), text, font=self.font, fill=(230, 234, 240))


def _shared(one: Box, other: Box) -> float:
    """The area two boxes share."""
    wide = min(one[2], other[2]) - max(one[0], other[0])
    tall = min(one[3], other[3]) - max(one[1], other[1])
    return max(wide, 0.0) * max(tall, 0.0)


def _pixels(read: Read, solution: Solution) -> list[Floats]:
    """(p, 3) metres of the pixels of every prop and member of a row."""
    from pydantic import TypeAdapter

    from eavesong.layout.coordinates import rotation
    from eavesong.layout.props import AnyProp, measured
    from eavesong.words import METRES

    adapter: TypeAdapter[Any] = TypeAdapter(AnyProp)
    metres = METRES[read.survey.units]
    found = []
    for entry in entries(read, solution):
        prop = adapter.validate_python(entry)
        turn = rotation(prop.rotate.x, prop.rotate.y, prop.rotate.z)
        own = measured(prop, metres).wire().points @ turn.T + np.array(prop.at)
        count, step = (prop.repeat.count, np.array(prop.repeat.step)) if prop.repeat else (1, np.zeros(3))
        found += [(own + number * step) * metres for number in range(count)]
    return found
