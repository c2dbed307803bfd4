"""The layout file as pydantic models: what may stand in it, and what each key means.

The models check one entry at a time; what only shows when entries meet (names used twice, chains, slots) is
checked where they are put together, in `build` and `patch`. Lengths stay in the file's own units here.
"""

from __future__ import annotations

import ipaddress
import re
from pathlib import PurePosixPath
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, Strict, model_validator

from eavesong.layout import shapes
from eavesong.layout.wire import MOST_PIXELS, Floats, Wire

METRES = {"m": 1.0, "cm": 0.01, "mm": 0.001, "ft": 0.3048, "in": 0.0254}
"""Metres in one of each unit. 1 yd = 0.9144 m exactly: international yard and pound agreement, 1959."""

ORDERS = ("RGB", "RBG", "GRB", "GBR", "BRG", "BGR", "RGBW", "RBGW", "GRBW", "GBRW", "BRGW", "BGRW",
          "WRGB", "WRBG", "WGRB", "WGBR", "WBRG", "WBGR")  # fmt: skip
"""Orders in which a pixel's colours go down its wire."""

LAST_UNIVERSE = 63999
"""ANSI E1.31-2018, 6.2.7: universes 1 to 63999 carry data."""

SLOTS = 512
"""ANSI E1.11: slots after the START code of one universe."""


def _triple(value: Any) -> Any:
    """[x, y] stands for [x, y, 0]."""
    return [*value, 0.0] if isinstance(value, list) and len(value) == 2 else value


def _clean(name: str) -> str:
    if name != name.strip() or not name.isprintable():
        raise ValueError("a name begins or ends with a blank, or holds a control character | Write it plainly.")
    return name


_TAG = re.compile(r"^[a-z][a-z0-9_-]*$")


def _lower_case_word(tag: str) -> str:
    if not _TAG.fullmatch(tag):
        raise ValueError("a tag is one lower-case word | Write it with the letters a-z, digits, '-' and '_'.")
    return tag


def _beside_the_layout(file: str) -> str:
    """Keep a file in or below the layout's folder, whatever system its path was written on."""
    parts = PurePosixPath(file.replace("\\", "/"))
    if parts.is_absolute() or ".." in parts.parts or re.match(r"^[A-Za-z]:", file):
        raise ValueError(
            "this path leads out of the layout's folder | Put the file beside the layout and name it from there."
        )
    return file


Length = Annotated[float, Field(gt=0, le=1e7, allow_inf_nan=False)]
Distance = Annotated[float, Field(ge=0, le=1e7, allow_inf_nan=False)]
Coordinate = Annotated[float, Field(ge=-1e7, le=1e7, allow_inf_nan=False)]
Degrees = Annotated[float, Field(ge=-360, le=360, allow_inf_nan=False)]
Place = Annotated[tuple[Coordinate, Coordinate, Coordinate], BeforeValidator(_triple), Strict(False)]
Places = Annotated[tuple[Place, ...], Strict(False)]
Name = Annotated[str, Field(min_length=1, max_length=80), AfterValidator(_clean)]
Tag = Annotated[
    str, Field(max_length=40, json_schema_extra={"pattern": _TAG.pattern}), AfterValidator(_lower_case_word)
]
Count = Annotated[int, Field(ge=1, le=MOST_PIXELS)]
Few = Annotated[int, Field(ge=1, le=10_000)]
FileBeside = Annotated[
    str, Field(min_length=1, max_length=200), AfterValidator(_clean), AfterValidator(_beside_the_layout)
]
Corner = Literal["bottom left", "bottom right", "top left", "top right"]


class Entry(BaseModel):
    """Base of all tables in the file: nothing unknown, nothing changed later, no text where a number belongs."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


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
    file: Annotated[
        str, Field(min_length=1, max_length=200), AfterValidator(_clean), AfterValidator(_beside_the_layout)
    ]

    def wire_through(self, places: Floats) -> Wire:
        """The wire through the ``places`` (n, 3) read from `file`."""
        return shapes.surveyed(places)


AnyProp = Annotated[
    Spot | Line | Polyline | Arch | Ring | Rectangle | Cane | Star | Spokes | Grid | Cone | Helix | Sphere
    | Icicles | Points,
    Field(discriminator="shape"),
]  # fmt: skip


class FrameBox(Entry):
    """The box that x, y and z run across, from its left-bottom-back corner to its right-top-front one."""

    start: Place = Field(alias="from")
    end: Place = Field(alias="to")

    @model_validator(mode="after")
    def _from_below_to(self) -> Self:
        if any(low > high for low, high in zip(self.start, self.end, strict=True)):
            raise ValueError("'from' lies beyond 'to' | Make 'from' the left, bottom, back corner.")
        return self


Order = Literal[ORDERS]  # type: ignore[valid-type]
Brightness = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]
Gamma = Annotated[float, Field(ge=0.2, le=5, allow_inf_nan=False)]
Nulls = Annotated[int, Field(ge=0, le=10_000)]
Universe = Annotated[int, Field(ge=1, le=LAST_UNIVERSE)]


class Link(Entry):
    """One prop of a chain, with what differs from the rest of its output."""

    prop: str
    reversed: bool = False
    null_pixels: Nulls = 0
    order: Order | None = None
    brightness: Brightness | None = None
    gamma: Gamma | None = None


def _link(value: Any) -> Any:
    """A prop's name alone stands for { prop = name }."""
    return {"prop": value} if isinstance(value, str) else value


class Output(Entry):
    """One connector of a controller and the props wired to it, in order."""

    number: Annotated[int, Field(ge=1, le=10_000)]
    chain: Annotated[tuple[Annotated[Link, BeforeValidator(_link)], ...], Strict(False)] = Field(min_length=1)
    order: Order = "RGB"
    null_pixels: Nulls = 0
    brightness: Brightness = 1.0
    gamma: Gamma = 1.0
    universe: Universe | None = None
    slot: Annotated[int, Field(ge=1, le=SLOTS)] = 1


_HOST = re.compile(r"(?!-)[A-Za-z0-9-]{1,63}(?<!-)(\.(?!-)[A-Za-z0-9-]{1,63}(?<!-))*\.?")


def _address(text: str) -> str:
    """A host as RFC 1123, 2.1 spells it, an IP address, or the word multicast."""
    try:
        ipaddress.ip_address(text)
    except ValueError:
        digits = re.fullmatch(r"[0-9.]+", text)
        if len(text) > 253 or digits or not _HOST.fullmatch(text):
            raise ValueError(
                "this is neither an IP address nor a host name | Write '192.0.2.10', a host name or 'multicast'."
            ) from None
    return text


class Controller(Entry):
    """A box that takes universes from the network and drives outputs."""

    name: Name
    address: Annotated[str, AfterValidator(_address)] = "multicast"
    protocol: Literal["E1.31"] = "E1.31"
    universe: Universe | None = None
    spanning: bool = False
    frame_rate_limit: Annotated[float, Field(ge=1, le=1000, allow_inf_nan=False)] | None = None
    output: Annotated[tuple[Output, ...], Strict(False)] = Field(min_length=1, max_length=10_000)


class House(Entry):
    """A whole layout file."""

    title: Name
    units: Literal["m", "cm", "mm", "ft", "in"] = "m"
    photo: FileBeside | None = None
    frame: FrameBox | None = None
    prop: Annotated[tuple[AnyProp, ...], Strict(False)] = Field(min_length=1, max_length=100_000)
    controller: Annotated[tuple[Controller, ...], Strict(False)] = Field(default=(), max_length=10_000)


def layout_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of the layout file, for editors that complete and check TOML."""
    schema = House.model_json_schema(by_alias=True)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema, "title": "eavesong layout"}
