"""The ``[[prop]]`` entries of a layout file: one model for each shape, its sizes in the file's own units."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, Strict, model_validator

from eavesong.layout import shapes
from eavesong.layout.fields import (
    Coordinate,
    Corner,
    Count,
    Degrees,
    Distance,
    Entry,
    Few,
    FileBeside,
    Length,
    Name,
    Place,
    Places,
    Tag,
)
from eavesong.layout.wire import Floats, Wire


class Rotate(Entry):
    """Degrees a prop is turned about its own origin before it is put in place: first z, then x, then y.

    All turns are right-handed: positive z rolls it counter-clockwise seen from the street, positive x leans its
    top towards the street, positive y turns it counter-clockwise seen from above (its front to the right).
    """

    x: Degrees = 0.0
    y: Degrees = 0.0
    z: Degrees = 0.0


class Repeat(Entry):
    """A row of equal props: ``count`` of them, each ``step`` further than the one before."""

    count: Annotated[int, Field(ge=2, le=10_000)]
    step: Place


class Mirror(Entry):
    """A mirror image on the other side of the upright plane through ``x``."""

    x: Coordinate


class Prop(Entry):
    """What every ``[[prop]]`` has."""

    name: Name
    shape: str
    at: Place = (0.0, 0.0, 0.0)
    rotate: Rotate = Rotate()
    tags: Annotated[tuple[Tag, ...], Strict(False)] = ()
    repeat: Repeat | None = None
    mirror: Mirror | None = None

    def wire(self) -> Wire:
        """The prop's wire in its own coordinates and the file's units; ValueError when the sizes clash."""
        raise NotImplementedError


class Pixelled(Prop):
    """A prop that says how many pixels it has, or how far apart they are."""

    pixels: Count | None = None
    pitch: Length | None = None

    @model_validator(mode="after")
    def _one_of_both(self) -> Self:
        if self.pixels is None and self.pitch is None:
            raise ValueError("neither 'pixels' nor 'pitch' is given | Add a line 'pixels = …'.")
        if self.pixels is not None and self.pitch is not None:
            raise ValueError("both 'pixels' and 'pitch' are given | Keep one of them.")
        return self


class Spot(Prop):
    """One pixel: a floodlight, a lamp."""

    shape: Literal["spot"]

    def wire(self) -> Wire:
        return shapes.spot()


class Line(Pixelled):
    """A straight wire."""

    shape: Literal["line"]
    start: Place = Field(alias="from", default=(0.0, 0.0, 0.0))
    end: Place = Field(alias="to")

    def wire(self) -> Wire:
        return shapes.line(self.start, self.end, self.pixels, self.pitch)


class Polyline(Pixelled):
    """A wire through corners."""

    shape: Literal["polyline"]
    points: Places = Field(min_length=2, max_length=10_000)
    closed: bool = False

    def wire(self) -> Wire:
        return shapes.polyline(self.points, self.closed, self.pixels, self.pitch)


class Arch(Pixelled):
    """Half an ellipse on two feet, or several inside each other."""

    shape: Literal["arch"]
    width: Length
    height: Length
    nested: Few = 1
    gap: Length = 0.1
    start: Literal["left", "right"] = "left"
    zigzag: bool = True

    def wire(self) -> Wire:
        return shapes.arch(
            self.width, self.height, self.pixels, self.pitch, self.nested, self.gap, self.start, self.zigzag
        )


class Ring(Pixelled):
    """A circle or an upright ellipse, or several inside each other."""

    shape: Literal["ring"]
    width: Length
    height: Length | None = None
    nested: Few = 1
    gap: Length = 0.1
    start: Literal["bottom", "left", "top", "right"] = "bottom"
    clockwise: bool = True

    def wire(self) -> Wire:
        height = self.width if self.height is None else self.height
        return shapes.ring(
            self.width, height, self.pixels, self.pitch, self.nested, self.gap, self.start, self.clockwise
        )


class Rectangle(Pixelled):
    """The outline of a rectangle."""

    shape: Literal["rectangle"]
    width: Length
    height: Length
    start: Corner = "bottom left"
    clockwise: bool = True

    def wire(self) -> Wire:
        return shapes.rectangle(self.width, self.height, self.pixels, self.pitch, self.start, self.clockwise)


class Cane(Pixelled):
    """A walking stick."""

    shape: Literal["cane"]
    height: Length
    hook: Length
    start: Literal["bottom", "top"] = "bottom"

    def wire(self) -> Wire:
        return shapes.cane(self.height, self.hook, self.pixels, self.pitch, self.start)


class Star(Pixelled):
    """The outline of a star."""

    shape: Literal["star"]
    tips: Annotated[int, Field(ge=2, le=1000)] = 5
    outer: Length
    inner: Length
    clockwise: bool = True

    def wire(self) -> Wire:
        return shapes.star(self.tips, self.outer, self.inner, self.pixels, self.pitch, self.clockwise)


class Spokes(Prop):
    """Straight arms from a middle outwards."""

    shape: Literal["spokes"]
    arms: Few
    inner: Distance = 0.0
    outer: Length
    pixels: Count
    zigzag: bool = False
    clockwise: bool = True

    def wire(self) -> Wire:
        return shapes.spokes(self.arms, self.inner, self.outer, self.pixels, self.zigzag, self.clockwise)


class Grid(Prop):
    """An upright sheet of pixels in columns and rows."""

    shape: Literal["grid"]
    columns: Few
    rows: Few
    width: Length
    height: Length
    start: Corner = "bottom left"
    wiring: Literal["rows", "columns"] = "rows"
    zigzag: bool = True

    def wire(self) -> Wire:
        return shapes.grid(self.columns, self.rows, self.width, self.height, self.start, self.wiring, self.zigzag)


class Cone(Prop):
    """A tree of straight strings."""

    shape: Literal["cone"]
    height: Length
    base: Length
    top: Distance = 0.0
    strings: Few
    pixels: Count
    turn: Annotated[float, Field(gt=0, le=360, allow_inf_nan=False)] = 360.0
    start: Literal["bottom", "top"] = "bottom"
    zigzag: bool = True
    clockwise: bool = False

    def wire(self) -> Wire:
        return shapes.cone(
            self.height, self.base, self.top, self.strings, self.pixels,
            self.turn, self.start, self.zigzag, self.clockwise,
        )  # fmt: skip


class Helix(Pixelled):
    """A wire wound round a post or a tree."""

    shape: Literal["helix"]
    height: Length
    base: Length
    top: Distance | None = None
    turns: Annotated[float, Field(gt=0, le=500, allow_inf_nan=False)]
    start: Literal["bottom", "top"] = "bottom"
    clockwise: bool = False

    def wire(self) -> Wire:
        top = self.base if self.top is None else self.top
        return shapes.helix(
            self.height, self.base, top, self.turns, self.pixels, self.pitch, self.start, self.clockwise
        )


class Sphere(Pixelled):
    """Level rings on a ball."""

    shape: Literal["sphere"]
    diameter: Length
    rings: Few

    def wire(self) -> Wire:
        return shapes.sphere(self.diameter, self.rings, self.pixels, self.pitch)


class Icicles(Prop):
    """Drops of unequal length hanging from an edge."""

    shape: Literal["icicles"]
    width: Length
    drops: Few
    lengths: Annotated[tuple[Length, ...], Strict(False)] = Field(min_length=1, max_length=1000)
    pitch: Length
    start: Literal["left", "right"] = "left"

    def wire(self) -> Wire:
        return shapes.icicles(self.width, self.drops, self.lengths, self.pitch, self.start)


class Points(Prop):
    """Pixels at places measured one by one."""

    shape: Literal["points"]
    file: FileBeside

    def wire_through(self, places: Floats) -> Wire:
        """The wire through the ``places`` (n, 3) read from `file`."""
        return shapes.surveyed(places)


AnyProp = Annotated[
    Spot | Line | Polyline | Arch | Ring | Rectangle | Cane | Star | Spokes | Grid | Cone | Helix | Sphere
    | Icicles | Points,
    Field(discriminator="shape"),
]  # fmt: skip
