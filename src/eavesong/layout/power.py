"""Power in the layout file, as pydantic models: kinds of pixels, supplies, and the wire between them.

Lengths are in the file's own units, as everywhere in it. `feeds` puts the entries together.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal, Self

from pydantic import Field, Strict, model_validator

from eavesong.errors import MisfitError
from eavesong.layout.fields import Distance, Entry, Name

Volts = Annotated[float, Field(gt=0, le=60, allow_inf_nan=False)]
"""Nothing above 60 V DC is planned here: beyond that, touching it is a danger (IEC 62368-1, ES1; from memory)."""
Amperes = Annotated[float, Field(ge=0, le=20, allow_inf_nan=False)]
Share = Annotated[float, Field(gt=0, le=1, allow_inf_nan=False)]
Number = Annotated[int, Field(ge=1, le=2_000_000)]

THICKEST, THINNEST = 0, 40
"""American wire gauges that have a size here (ASTM B258)."""


class Conductor(Entry):
    """What a wire is made of: a gauge, an area or a measured resistance, of one conductor."""

    gauge: int | None = None
    """American wire gauge, 0 to 40."""
    area: Annotated[float, Field(gt=0, le=500, allow_inf_nan=False)] | None = None
    """Square millimetres of copper, where the wire has no gauge."""
    copper: Literal["solid", "stranded"] = "stranded"
    """Strands of the same nominal size resist about 2 % more."""

    @model_validator(mode="after")
    def _known(self) -> Self:
        if self.gauge is not None and not THICKEST <= self.gauge <= THINNEST:
            raise MisfitError(
                f"no wire has the gauge {self.gauge}",
                f"Write an American wire gauge, {THICKEST} to {THINNEST}, such as 18, or 'area' in square millimetres.",
            )
        if (self.gauge is None) == (self.area is None) and not self._otherwise():
            both = "both 'gauge' and 'area' are" if self.gauge is not None else "neither 'gauge' nor 'area' is"
            raise MisfitError(f"{both} given", "Write one of them, such as gauge = 18.")
        return self

    def _otherwise(self) -> bool:
        """Whether the wire's resistance is given in another way."""
        return False


class Lead(Conductor):
    """A cable of two conductors between a supply and a pixel."""

    length: Distance
    """From end to end, one way."""


class StringWire(Conductor):
    """The two conductors along a string of pixels."""

    ohms_per_metre: Annotated[float, Field(gt=0, le=100, allow_inf_nan=False)] | None = None
    """Of one conductor, at 20 degrees, where it was measured or the datasheet says; the strips of printed boards."""

    def _otherwise(self) -> bool:
        return self.ohms_per_metre is not None and self.gauge is None and self.area is None


class PixelKind(Entry):
    """A kind of pixel: what it draws and how fast it listens."""

    name: Name
    volts: Volts
    """Between its supply wires."""
    amperes: Annotated[tuple[Amperes, ...], Strict(False)] = Field(min_length=3, max_length=4)
    """Of red, green and blue (and white) at full drive."""
    idle: Amperes = 0.001
    """Amperes it draws when it is dark."""
    bit_time: Annotated[float, Field(gt=0, le=1000, allow_inf_nan=False)] = 1.25
    """Microseconds of one bit."""
    reset: Annotated[float, Field(ge=0, le=100_000, allow_inf_nan=False)] = 280.0
    """Microseconds of silence after a frame."""
    lowest_volts: Volts | None = None
    """It needs at least these; nine tenths of its volts where they are not given."""
    wire: StringWire = StringWire(gauge=20)
    """Along the string."""
    spacing: Distance = 0.0
    """Wire from one pixel to the next; the distance between their places where that is more."""

    @model_validator(mode="after")
    def _below(self) -> Self:
        if self.lowest_volts is not None and self.lowest_volts > self.volts:
            raise MisfitError(
                f"'lowest_volts' {self.lowest_volts:g} is above its {self.volts:g} V", "Write less than 'volts'."
            )
        return self


class Injection(Entry):
    """A lead from a supply to a pixel further down a string."""

    prop: Name
    """The prop it goes to."""
    pixel: Number | None = None
    """Which of the prop's pixels, from 1; the last of it on the wire where none is given."""
    lead: Lead | None = None
    """The cable from the supply; none where the supply sits right there."""


class Feed(Entry):
    """A stretch of an output's string that one supply feeds."""

    controller: Name
    """The controller's name."""
    output: Annotated[int, Field(ge=1, le=10_000)]
    """The output's number."""
    props: Annotated[tuple[Name, ...], Strict(False)] | None = None
    """Neighbours in its chain; the whole chain where nothing is given."""
    pixels: Annotated[tuple[Number, Number], Strict(False)] | None = None
    """First and last pixel along the output, from 1, instead of props."""
    lead: Lead | None = None
    """The cable from the supply to the first pixel; none where the supply sits right there."""
    inject: Annotated[tuple[Injection, ...], Strict(False)] = Field(default=(), max_length=1000)
    """Further places where the same supply feeds the same stretch."""

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        if self.props is not None and self.pixels is not None:
            raise MisfitError("both 'props' and 'pixels' are given", "Keep one of them.")
        if self.props == ():
            raise MisfitError("'props' is empty, so this feeds nothing", "Name props, or leave out the line.")
        return self


class Supply(Entry):
    """A power supply and what it feeds."""

    name: Name
    volts: Volts
    """It gives."""
    watts: Annotated[float, Field(gt=0, le=100_000, allow_inf_nan=False)]
    """It is rated for."""
    usable: Share = 0.8
    """Share of its rating that is planned with."""
    efficiency: Share = 0.85
    """Share of what it takes from the mains that reaches the lights."""
    feed: Annotated[tuple[Feed, ...], Strict(False)] = Field(default=(), max_length=1000)
    """What it feeds."""

    @model_validator(mode="before")
    @classmethod
    def _feeds(cls, value: Any) -> Any:
        if isinstance(value, dict) and not value.get("feed"):
            raise MisfitError("this supply feeds nothing", "Add [[supply.feed]] with 'controller' and 'output'.")
        return value


class Power(Entry):
    """What holds for all of the house's power."""

    pixel_type: Name | None = None
    """The kind of pixel of all outputs that name none."""
    celsius: Annotated[float, Field(ge=-60, le=150, allow_inf_nan=False)] = 20.0
    """Temperature of the copper."""
