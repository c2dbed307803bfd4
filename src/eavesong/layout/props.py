"""The ``[[prop]]`` entries of a layout file: one model for each shape, its sizes in the file's own units."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal, Self

from pydantic import BeforeValidator, Field, Strict, model_validator

from eavesong.entries import Entry
from eavesong.errors import MisfitError
from eavesong.layout import shapes
from eavesong.layout.fields import (
    Coordinate,
    Corner,
    Count,
    Degrees,
    Distance,
    Few,
    FileBeside,
    Length,
    Name,
    Place,
    Places,
    Tags,
)
from eavesong.layout.things import shaped
from eavesong.layout.wire import Floats, Wire
from eavesong.slips import ExampleEntry


class Rotate(ExampleEntry):
    """Degrees a prop is turned about its own origin before it is put in place: first z, then x, then y.

    All turns are right-handed: positive z rolls it counter-clockwise seen from the street, positive x leans its
    top towards the street, positive y turns it counter-clockwise seen from above (its front to the right).
    """

    example: ClassVar[str] = "{ z = 45 }"
    x: Degrees = 0.0
    y: Degrees = 0.0
    z: Degrees = 0.0


class Repeat(ExampleEntry):
    """A row of equal props: ``count`` of them, each ``step`` further than the one before."""

    example: ClassVar[str] = "{ count = 6, step = [1.4, 0] }"
    count: Annotated[int, Field(ge=1, le=10_000)]
    """How many there are; a row of one is the prop by itself."""
    step: Place
    """From each to the next: [x, y] or [x, y, z]."""


class Mirror(ExampleEntry):
    """A mirror image on the other side of the upright plane through ``x``."""

    example: ClassVar[str] = "{ x = 5.0 }"
    x: Coordinate
    """Where the plane is."""


class PropEntry(Entry):
    """What every ``[[prop]]`` has."""

    name: Name
    """Its own name; the members of a row are numbered after it."""
    shape: str
    """What its wire looks like."""
    at: Place = (0.0, 0.0, 0.0)
    """Where its origin is: [x, y] or [x, y, z]."""
    rotate: Rotate = Rotate()
    """How it is turned about its origin."""
    tags: Tags = ()
    """Words that shows choose props by."""
    repeat: Repeat | None = None
    """A row of equal props."""
    mirror: Mirror | None = None
    """The prop, or the whole row, once more as a mirror image; left and right change places in its tags."""

    def wire(self) -> Wire:
        """The prop's wire in its own coordinates and the file's units; MisfitError when the sizes clash."""
        raise NotImplementedError


class Pixelled(PropEntry):
    """A prop that says how many pixels it has, or how far apart they are."""

    pixels: Count | None = None
    """How many pixels the wire has (each wire, where several are nested)."""
    pitch: Length | None = None
    """How far apart they are; the nearest whole number fits the wire."""

    @model_validator(mode="after")
    def _one_of_both(self) -> Self:
        if self.pixels is None and self.pitch is None:
            raise MisfitError("neither 'pixels' nor 'pitch' is given", "Add a line 'pixels = …'.")
        if self.pixels is not None and self.pitch is not None:
            raise MisfitError("both 'pixels' and 'pitch' are given", "Keep one of them.")
        return self


class Spot(PropEntry):
    """One pixel: a floodlight, a lamp."""

    shape: Literal["spot"]

    def wire(self) -> Wire:
        """One pixel at the origin."""
        return shapes.spot()


class Line(Pixelled):
    """A straight wire."""

    shape: Literal["line"]
    start: Place = Field(alias="from", default=(0.0, 0.0, 0.0))
    """From here; a place on the house, or counted from 'at'."""
    end: Place = Field(alias="to")
    """To here."""

    def wire(self) -> Wire:
        """A straight wire from start to end."""
        return shapes.line(self.start, self.end, self.pixels, self.pitch)


class Polyline(Pixelled):
    """A wire through corners."""

    shape: Literal["polyline"]
    points: Places = Field(min_length=2, max_length=10_000)
    """Corners in order; places on the house, or counted from 'at'."""
    closed: bool = False
    """Whether the wire goes back to the first corner."""

    def wire(self) -> Wire:
        """A wire through the corners."""
        return shapes.polyline(self.points, self.closed, self.pixels, self.pitch)


class Arch(Pixelled):
    """Half an ellipse on two feet, or several inside each other."""

    shape: Literal["arch"]
    width: Length
    """From foot to foot."""
    height: Length
    """Of its crown."""
    nested: Few = 1
    """How many stand inside each other."""
    gap: Length | None = None
    """Between nested arches; 10 cm without it."""
    start: Literal["left", "right"] = "left"
    """The foot where the wire begins."""
    zigzag: bool = True
    """Whether every second nested arch is wired back."""

    def wire(self) -> Wire:
        """Half ellipses from foot to foot."""
        return shapes.arch(
            self.width,
            self.height,
            self.pixels,
            self.pitch,
            self.nested,
            self.gap or shapes.GAP,
            self.start,
            self.zigzag,
        )


class Ring(Pixelled):
    """A circle or an upright ellipse, or several inside each other."""

    shape: Literal["ring"]
    width: Length
    """Outer diameter."""
    height: Length | None = None
    """Outer height; a circle without it."""
    nested: Few = 1
    """How many lie inside each other."""
    gap: Length | None = None
    """Between nested rings; 10 cm without it."""
    start: Literal["bottom", "left", "top", "right"] = "bottom"
    """Where the wire begins."""
    clockwise: bool = True
    """Which way it goes, seen from the street."""

    def wire(self) -> Wire:
        """Ellipses round the origin."""
        height = self.width if self.height is None else self.height
        return shapes.ring(
            self.width, height, self.pixels, self.pitch, self.nested, self.gap or shapes.GAP, self.start, self.clockwise
        )


class Rectangle(Pixelled):
    """The outline of a rectangle."""

    shape: Literal["rectangle"]
    width: Length
    height: Length
    start: Corner = "bottom left"
    """The corner where the wire begins."""
    clockwise: bool = True
    """Which way it goes, seen from the street."""

    def wire(self) -> Wire:
        """Four sides round the origin, from the chosen corner."""
        return shapes.rectangle(self.width, self.height, self.pixels, self.pitch, self.start, self.clockwise)


class Cane(Pixelled):
    """A walking stick."""

    shape: Literal["cane"]
    height: Length
    """In all."""
    hook: Length
    """Width of the hook."""
    start: Literal["bottom", "top"] = "bottom"
    """Where the wire begins."""

    def wire(self) -> Wire:
        """A shaft and its hook."""
        return shapes.cane(self.height, self.hook, self.pixels, self.pitch, self.start)


class Star(Pixelled):
    """The outline of a star."""

    shape: Literal["star"]
    tips: Annotated[int, Field(ge=2, le=1000)] = 5
    """How many tips it has."""
    outer: Length
    """Radius to the tips."""
    inner: Length
    """Radius to the corners between them."""
    clockwise: bool = True
    """Which way the wire goes, seen from the street."""

    def wire(self) -> Wire:
        """The outline from tip to tip."""
        return shapes.star(self.tips, self.outer, self.inner, self.pixels, self.pitch, self.clockwise)


class Spokes(PropEntry):
    """Straight arms from a middle outwards."""

    shape: Literal["spokes"]
    arms: Few
    """How many arms there are; the first points up."""
    inner: Distance = 0.0
    """Radius where the arms begin."""
    outer: Length
    """Radius where they end."""
    pixels: Count
    """On each arm."""
    zigzag: bool = False
    """Whether every second arm is wired from outside in."""
    clockwise: bool = True
    """Which way round the arms follow."""

    def wire(self) -> Wire:
        """Arms from the middle outwards."""
        return shapes.spokes(self.arms, self.inner, self.outer, self.pixels, self.zigzag, self.clockwise)


class Grid(PropEntry):
    """An upright sheet of pixels in columns and rows."""

    shape: Literal["grid"]
    columns: Few
    """Pixels across."""
    rows: Few
    """Pixels up."""
    width: Length
    height: Length
    start: Corner = "bottom left"
    """The corner where the wire begins."""
    wiring: Literal["rows", "columns"] = "rows"
    """Whether the wire follows rows or columns."""
    zigzag: bool = True
    """Whether every second one is wired back."""

    def wire(self) -> Wire:
        """Rows or columns of a sheet."""
        return shapes.grid(self.columns, self.rows, self.width, self.height, self.start, self.wiring, self.zigzag)


class Cone(PropEntry):
    """A tree of straight strings."""

    shape: Literal["cone"]
    height: Length
    base: Length
    """Diameter at the foot."""
    top: Distance = 0.0
    """Diameter at the top."""
    strings: Few
    """How many strings there are."""
    pixels: Count
    """On each string."""
    turn: Annotated[float, Field(gt=0, le=360, allow_inf_nan=False)] = 360.0
    """Degrees the strings are spread over, half of them on either side of the street side."""
    start: Literal["bottom", "top"] = "bottom"
    """Where the first string begins."""
    zigzag: bool = True
    """Whether every second string is wired back."""
    clockwise: bool = False
    """Which way round the strings follow, seen from above."""

    def wire(self) -> Wire:
        """Strings from foot to top."""
        return shapes.cone(
            self.height, self.base, self.top, self.strings, self.pixels,
            self.turn, self.start, self.zigzag, self.clockwise,
        )  # fmt: skip


class Helix(Pixelled):
    """A wire wound round a post or a tree."""

    shape: Literal["helix"]
    height: Length
    base: Length
    """Diameter at the foot."""
    top: Distance | None = None
    """Diameter at the top; as at the foot without it."""
    turns: Annotated[float, Field(gt=0, le=500, allow_inf_nan=False)]
    """How many times the wire goes round."""
    start: Literal["bottom", "top"] = "bottom"
    """Where the wire begins, on the street side."""
    clockwise: bool = False
    """Which way it goes, seen from above."""

    def wire(self) -> Wire:
        """A wire that climbs round an upright axis."""
        top = self.base if self.top is None else self.top
        return shapes.helix(
            self.height, self.base, top, self.turns, self.pixels, self.pitch, self.start, self.clockwise
        )


class Sphere(Pixelled):
    """Level rings on a ball."""

    shape: Literal["sphere"]
    diameter: Length
    rings: Few
    """Level rings from pole to pole."""

    def wire(self) -> Wire:
        """Level rings from pole to pole."""
        return shapes.sphere(self.diameter, self.rings, self.pixels, self.pitch)


class Icicles(PropEntry):
    """Drops of unequal length hanging from an edge."""

    shape: Literal["icicles"]
    width: Length
    """Of the edge they hang from."""
    drops: Few
    """How many there are."""
    lengths: Annotated[tuple[Length, ...], Strict(False)] = Field(min_length=1, max_length=1000)
    """Of the drops in turn; they repeat along the edge."""
    pitch: Length
    """Between the pixels of a drop."""
    start: Literal["left", "right"] = "left"
    """The end of the edge where the wire begins."""

    def wire(self) -> Wire:
        """Drops that hang from an edge."""
        return shapes.icicles(self.width, self.drops, self.lengths, self.pitch, self.start)


class Points(PropEntry):
    """Pixels at places measured one by one."""

    shape: Literal["points"]
    file: FileBeside
    """A comma-separated text beside the layout whose first line is x,y,z."""

    def wire_through(self, places: Floats) -> Wire:
        """The wire through the ``places`` (n, 3) read from `file`."""
        return shapes.surveyed(places)


AnyProp = Annotated[
    Spot | Line | Polyline | Arch | Ring | Rectangle | Cane | Star | Spokes | Grid | Cone | Helix | Sphere
    | Icicles | Points,
    Field(discriminator="shape"),
    BeforeValidator(shaped),
]  # fmt: skip


def measured(entry: PropEntry, metres: float) -> PropEntry:
    """The entry with the gap that it leaves out, which is the same in a file of every unit of ``metres``."""
    if getattr(entry, "gap", shapes.GAP) is not None:
        return entry
    return entry.model_copy(update={"gap": shapes.GAP / metres})
