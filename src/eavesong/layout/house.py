"""What a layout file becomes: props in order, and one array for everything a pixel knows about its place."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, fields
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from eavesong.layout.patch import Patch
from eavesong.layout.view import DISTANCE

if TYPE_CHECKING:
    from eavesong.colours import Colour, Hue
    from eavesong.layout.feeds import PowerPlan
    from eavesong.palettes import Lights

Float32 = NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class Frame:
    """The house frame: the box across which x, y and z run from 0 to 1."""

    origin: NDArray[np.float64]
    """(3,) metres: its left, bottom, back corner."""
    size: NDArray[np.float64]
    """(3,) metres: width, height, depth; 0 for an axis along which the house is flat."""


@dataclass(frozen=True)
class Prop:
    """One prop: a pixel range with a name."""

    name: str
    shape: str
    tags: frozenset[str]
    start: int
    """First pixel."""
    stop: int
    """One after the last pixel."""
    number: int
    """Place in a repeated row, from 0; 0 for a single prop."""
    length: float
    """Metres of wire, jumper wires between strands left out."""
    member_of: str
    """Name of the repeated entry it comes from, else its own name."""
    lit: bool = True
    """Whether anything is lit on it: what a house wishes to be ``unlit`` stays dark."""

    def goes_by(self, names: Collection[str]) -> bool:
        """Whether its name, that of its row or one of its tags is among ``names``."""
        return not {self.name, self.member_of, *self.tags}.isdisjoint(names)


@dataclass(frozen=True, eq=False)
class Pixels:
    """Where every pixel is; float32 arrays of shape (n,), pixels prop by prop in wire order, read-only.

    An axis along which the house (or, for px and py, the prop) is flat has the coordinate 0.5 everywhere.
    """

    x: Float32
    """0..1 left to right across the house frame."""
    y: Float32
    """0..1 bottom to top."""
    z: Float32
    """0..1 back to street."""
    X: Float32
    """Metres from the frame's left."""
    Y: Float32
    """Metres above the frame's bottom."""
    Z: Float32
    """Metres from the frame's back."""
    u: Float32
    """0..1 along the wire: the i-th of n pixels stands at (i + 0.5)/n."""
    along: Float32
    """Metres of wire up to the pixel's centre."""
    wire_length: Float32
    """Metres of wire of the whole prop."""
    px: Float32
    """0..1 from left to right in the prop's own box, before it is turned and placed."""
    py: Float32
    """0..1 from bottom to top in the prop's own box."""
    turn: Float32
    """0..1 round the prop's own upright axis: 0 on the street side, counter-clockwise seen from above."""
    seed: Float32
    """A fixed random number 0..1 that belongs to the place (x, y, z): equal places, equal seeds, on any house."""
    centre_x: Float32
    """x of the middle of the prop's own box."""
    centre_y: Float32
    """y of it."""
    centre_z: Float32
    """z of it."""
    number: Float32
    """The prop's place in its repeated row, from 0."""
    prop: NDArray[np.int32]
    """Which prop, an index into ``Layout.props``."""
    step: dict[str, Float32]
    """Change of x y z X Y Z u along px py turn over one pixel along the wire, signed; 0 for a lone pixel."""
    across: dict[str, Float32]
    """The same over one pixel across side-by-side wires; 0 for u and along, and where no wire lies beside."""

    def __post_init__(self) -> None:
        for each in fields(self):
            value = getattr(self, each.name)
            for array in value.values() if isinstance(value, dict) else (value,):
                array.setflags(write=False)


@dataclass(frozen=True, eq=False)
class Layout:
    """A house: its props, where their pixels are and how they are wired to controllers."""

    title: str
    path: str
    """The file it was read from; empty when it was made from arrays."""
    text: str
    """The file's own text; empty when it was made from arrays."""
    content_hash: str
    """SHA-256 over the file and the points files it names, in hex."""
    frame: Frame
    props: tuple[Prop, ...]
    pixels: Pixels
    patch: Patch
    photo: str = ""
    """A picture of the house, a path beside the layout file; empty when there is none."""
    palettes: Mapping[str, Lights] = field(default_factory=dict)
    """What the house has in place of palettes that shows ask for, by their names; under ``all`` of every other one."""
    colours: Mapping[str, tuple[Hue, Colour]] = field(default_factory=dict)
    """The colour that the house has in place of whatever is of a hue, by the name of that: its degrees (OKLCH), and the
    one in linear light."""
    power_plan: PowerPlan | None = None
    """What the file says about power; None for a layout made from arrays."""
    watched_from: float = DISTANCE
    """Metres from the nearest watching eye to the display: checks and softening look from there."""

    @property
    def pixel_count(self) -> int:
        """Pixels in all."""
        return len(self.pixels.x)

    @property
    def power(self) -> PowerPlan:
        """Kinds of pixels, strings and supplies; the usual kind everywhere where nothing is said about power."""
        from eavesong.layout.feeds import plain_plan

        return self.power_plan or plain_plan(self.pixel_count)

    def names(self) -> tuple[str, ...]:
        """Every name a prop can be chosen by: its own, and that of the repeated entry it belongs to."""
        return tuple(dict.fromkeys(name for prop in self.props for name in (prop.member_of, prop.name)))

    def tags(self) -> tuple[str, ...]:
        """Every tag in use, in alphabetical order."""
        return tuple(sorted(frozenset().union(*(prop.tags for prop in self.props))))

    def named(self, name: str) -> tuple[int, ...]:
        """Indices of the props called ``name``, or that come from the repeated entry called so."""
        return tuple(i for i, prop in enumerate(self.props) if name in (prop.name, prop.member_of))

    def tagged(self, tag: str) -> tuple[int, ...]:
        """Indices of the props that carry ``tag``."""
        return tuple(i for i, prop in enumerate(self.props) if tag in prop.tags)


def dimmed(layout: Layout) -> Iterator[str]:
    """To how much of their bytes pixels are dimmed, in words: all of them at most, and props where not all are."""
    brightness = layout.patch.brightness
    most = float(brightness.max())
    if most < 1:
        yield f"dimmed to {100 * most:.0f} % of its bytes at most"
    shares: dict[int, list[int]] = {}
    for index, prop in enumerate(layout.props):
        least = float(brightness[prop.start : prop.stop].min())
        if prop.lit and least < most - 1e-6:
            shares.setdefault(round(100 * least), []).append(index)
    for share, props in sorted(shares.items()):
        yield f"dimmed to {share} %: {', '.join(grouped(layout, props))}"


def grouped(layout: Layout, indices: Iterable[int]) -> Iterator[str]:
    """The names of props; a repeated row of which all are meant as one: ``arch (all 6)``."""
    wanted = set(indices)
    rows: dict[str, list[int]] = {}
    for index, prop in enumerate(layout.props):
        rows.setdefault(prop.member_of, []).append(index)
    for row, members in rows.items():
        if len(members) > 1 and wanted.issuperset(members):
            yield f"{row} (all {len(members)})"
        else:
            yield from (layout.props[index].name for index in members if index in wanted)
