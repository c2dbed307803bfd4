"""A drawing as a short list of marks, and two ways to put it on paper: SVG text and a PNG picture.

Marks are in drawing units, x to the right and y downwards, painted in order in solid colours, so that both come
out alike.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from functools import lru_cache
from html import escape
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from PIL import ImageDraw, ImageFont

Colour = tuple[int, int, int]
"""sRGB, 0..255."""

Points = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Dots:
    """Round dots at ``points`` (k, 2)."""

    points: Points
    diameter: float
    colour: Colour


@dataclass(frozen=True, eq=False)
class Lines:
    """Separate straight strokes: ``ends`` (k, 4) as x, y, x, y."""

    ends: Points
    width: float
    colour: Colour


@dataclass(frozen=True)
class Circle:
    """An empty circle."""

    x: float
    y: float
    diameter: float
    width: float
    colour: Colour


@dataclass(frozen=True)
class Words:
    """One line of text; ``x`` is its left, middle or right edge as ``anchor`` says, ``y`` its baseline."""

    x: float
    y: float
    text: str
    size: float
    colour: Colour
    anchor: str = "start"


Mark = Dots | Lines | Circle | Words


@dataclass(frozen=True)
class Figure:
    """A drawing: its size, its ground and what is on it."""

    width: int
    height: int
    ground: Colour
    marks: tuple[Mark, ...]


def mixed(colour: Colour, other: Colour, amount: float) -> Colour:
    """``colour`` with ``amount`` (0..1) of ``other`` in it, mixed in sRGB values: good enough for paper."""
    red, green, blue = (round(a + (b - a) * amount) for a, b in zip(colour, other, strict=True))
    return red, green, blue


def to_svg(figure: Figure) -> str:
    """The figure as an SVG 1.1 text that stands alone."""
    size = f'width="{figure.width}" height="{figure.height}" viewBox="0 0 {figure.width} {figure.height}"'
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} font-family="Helvetica, Arial, sans-serif">',
        f'<rect width="100%" height="100%" fill="{_hex(figure.ground)}"/>',
        *(_svg_mark(mark) for mark in figure.marks),
        "</svg>",
    ]
    return "\n".join(line for line in lines if line) + "\n"


def _hex(colour: Colour) -> str:
    return "#{:02x}{:02x}{:02x}".format(*colour)


def _number(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def _svg_mark(mark: Mark) -> str:
    if isinstance(mark, Words):
        where = f'x="{_number(mark.x)}" y="{_number(mark.y)}" font-size="{_number(mark.size)}"'
        return f'<text {where} text-anchor="{mark.anchor}" fill="{_hex(mark.colour)}">{escape(mark.text)}</text>'
    if isinstance(mark, Circle):
        where = f'cx="{_number(mark.x)}" cy="{_number(mark.y)}" r="{_number(mark.diameter / 2)}"'
        return f'<circle {where} fill="none" stroke="{_hex(mark.colour)}" stroke-width="{_number(mark.width)}"/>'
    if isinstance(mark, Dots):
        # A stroke of no length with round ends is a dot: one short path for a whole prop.
        path = "".join(f"M{_number(x)} {_number(y)}h0" for x, y in mark.points)
        width = mark.diameter
    else:
        path = "".join(f"M{_number(a)} {_number(b)}L{_number(c)} {_number(d)}" for a, b, c, d in mark.ends)
        width = mark.width
    if not path:
        return ""
    return f'<path d="{path}" stroke="{_hex(mark.colour)}" stroke-width="{_number(width)}" stroke-linecap="round"/>'


FINER = 2
"""The PNG is painted this many times larger and then reduced, which smooths its edges."""


def to_png(figure: Figure) -> bytes:
    """The figure as a PNG file, one pixel to a drawing unit."""
    from PIL import Image, ImageDraw

    picture = Image.new("RGB", (figure.width * FINER, figure.height * FINER), figure.ground)
    brush = ImageDraw.Draw(picture)
    for mark in figure.marks:
        _png_mark(brush, mark)
    written = io.BytesIO()
    picture.resize((figure.width, figure.height), Image.Resampling.LANCZOS).save(written, "PNG", optimize=True)
    return written.getvalue()


def _png_mark(brush: ImageDraw.ImageDraw, mark: Mark) -> None:
    if isinstance(mark, Words):
        place = (mark.x * FINER, mark.y * FINER)
        anchor = {"start": "ls", "middle": "ms", "end": "rs"}[mark.anchor]
        brush.text(place, mark.text, fill=mark.colour, font=_font(mark.size * FINER), anchor=anchor)
    elif isinstance(mark, Circle):
        r = mark.diameter / 2
        box = [FINER * side for side in (mark.x - r, mark.y - r, mark.x + r, mark.y + r)]
        brush.ellipse(box, outline=mark.colour, width=round(mark.width * FINER))
    elif isinstance(mark, Dots):
        r = mark.diameter / 2
        for x, y in (mark.points * FINER).tolist():
            brush.ellipse((x - r * FINER, y - r * FINER, x + r * FINER, y + r * FINER), fill=mark.colour)
    else:
        for ends in (mark.ends * FINER).tolist():
            brush.line(ends, fill=mark.colour, width=max(1, round(mark.width * FINER)))


@lru_cache
def _font(size: float) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    from PIL import ImageFont

    return ImageFont.load_default(size)
