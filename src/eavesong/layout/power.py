"""Power in the layout file, as pydantic models: kinds of pixels, supplies, and the wire between them.

Lengths are in the file's own units, as everywhere in it. `feeds` puts the entries together.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, Field, Strict, model_validator

from eavesong.entries import Entry
from eavesong.errors import MisfitError
from eavesong.layout.fields import Distance, Name, Place

Volts = Annotated[float, Field(gt=0, le=60, allow_inf_nan=False)]
"""Nothing above 60 V DC is planned here: beyond that, touching it is a danger (IEC 62368-1, ES1; from memory)."""
Amperes = Annotated[float, Field(ge=0, le=1000, allow_inf_nan=False)]
Share = Annotated[float, Field(gt=0, le=1, allow_inf_nan=False)]
Number = Annotated[int, Field(ge=1, le=2_000_000)]

LARGEST, LARGEST_IDLE = 4.0, 0.5
"""Amperes of one colour of one pixel, and of a dark pixel, above which the number is taken to be in milliamperes: a
small pixel has 5 to 40 of those, and the largest flood for 12 V some 3 A a colour (common practice)."""


def _in_amperes(largest: float) -> AfterValidator:
    """Refuses more than ``largest`` amperes, and says which unit was probably meant."""

    def check(value: float) -> float:
        """The value; raises MisfitError where it is more than the largest."""
        if value > largest:
            raise MisfitError(
                f"{value:g} A is more than one pixel draws",
                f"Currents are in amperes: {value:g} mA is {value / 1000:g}.",
            )
        return value

    return AfterValidator(check)


THICKEST, THINNEST = 0, 40
"""American wire gauges that have a size here (ASTM B258)."""


class ConductorEntry(Entry):
    """What one conductor of a cable is: its gauge, its area, or what it resists."""

    gauge: int | None = None
    """American wire gauge, 0 to 40."""
    area: Annotated[float, Field(gt=0, le=500, allow_inf_nan=False)] | None = None
    """Square millimetres of copper, where the wire has no gauge."""
    ohms_per_metre: Annotated[float, Field(gt=0, le=100, allow_inf_nan=False)] | None = None
    """Of one conductor, at 20 degrees, where it was measured or the datasheet says: copper-clad aluminium, the strips
    of printed boards."""
    copper: Literal["solid", "stranded"] = "stranded"
    """Strands of the same nominal size resist about 2 % more."""

    @model_validator(mode="after")
    def _known(self) -> Self:
        if self.gauge is not None and not THICKEST <= self.gauge <= THINNEST:
            raise MisfitError(
                f"no wire has the gauge {self.gauge}",
                f"Write an American wire gauge, {THICKEST} to {THINNEST}, such as 18, or 'area' in square millimetres.",
            )
        given = [key for key in ("gauge", "area", "ohms_per_metre") if getattr(self, key) is not None]
        if not given:
            raise MisfitError("neither 'gauge' nor 'area' is given", "Write one of them, such as gauge = 18.")
        if len(given) > 1:
            raise MisfitError(f"both '{given[0]}' and '{given[1]}' are given", "Keep one of them, such as gauge = 18.")
        return self


class LeadEntry(ConductorEntry):
    """A cable of two conductors between a supply and a pixel."""

    length: Distance | None = None
    """From end to end, one way. Without it, as long as the straight way from where its supply hangs, with slack."""
    bundled: Annotated[int, Field(ge=1, le=100)] = 1
    """Cables that lie in one bundle or pipe for more than 0.6 m, this one counted: they warm each other."""


class PixelKind(Entry):
    """A kind of pixel: what it draws and how fast it listens."""

    name: Name
    volts: Volts
    """Between its supply wires."""
    amperes: Annotated[tuple[Annotated[Amperes, _in_amperes(LARGEST)], ...], Strict(False)] = Field(
        min_length=3, max_length=4
    )
    """Of red, green and blue (and white) at full drive."""
    idle: Annotated[Amperes, _in_amperes(LARGEST_IDLE)] = 0.001
    """Amperes it draws when it is dark."""
    bit_time: Annotated[float, Field(gt=0, le=1000, allow_inf_nan=False)] = 1.25
    """Microseconds of one bit."""
    reset: Annotated[float, Field(ge=0, le=100_000, allow_inf_nan=False)] = 280.0
    """Microseconds of silence after a frame."""
    lowest_volts: Volts | None = None
    """It needs at least these; nine tenths of its volts where they are not given."""
    wire: ConductorEntry = ConductorEntry(gauge=20)
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


class InjectionEntry(Entry):
    """A lead from a supply to a pixel further down a string."""

    prop: Name
    """The prop it goes to."""
    pixel: Number | None = None
    """Which of the prop's pixels, from 1; the last of it on the wire where none is given."""
    lead: LeadEntry | None = None
    """The cable from the supply; without it, one of the house's usual leads over the distance."""


class FeedEntry(Entry):
    """A stretch of an output's string that one supply feeds."""

    controller: Name
    """The controller's name."""
    output: Annotated[int, Field(ge=1, le=10_000)]
    """The output's number."""
    props: Annotated[tuple[Name, ...], Strict(False)] | None = None
    """Neighbours in its chain; the whole chain where nothing is given."""
    pixels: Annotated[tuple[Number, Number], Strict(False)] | None = None
    """First and last pixel along the output, from 1, instead of props."""
    lead: LeadEntry | None = None
    """The cable from the supply to the first pixel; without it, one of the house's usual leads over the distance."""
    inject: Annotated[tuple[InjectionEntry, ...], Strict(False)] = Field(default=(), max_length=1000)
    """Further places where the same supply feeds the same stretch."""

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        if self.props is not None and self.pixels is not None:
            raise MisfitError("both 'props' and 'pixels' are given", "Keep one of them.")
        if self.props == ():
            raise MisfitError("'props' is empty, so this feeds nothing", "Name props, or leave out the line.")
        return self


class SupplyEntry(Entry):
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
    power_factor: Share = 0.6
    """Watts over volt-amperes on the mains' side; 0.6 is usual without correction, 0.95 with it."""
    at: Place | None = None
    """Where it hangs: leads without a length are measured from there. Without it, at the first pixel it feeds."""
    feed: Annotated[tuple[FeedEntry, ...], Strict(False)] = Field(default=(), max_length=1000)
    """What it feeds."""

    @model_validator(mode="before")
    @classmethod
    def _feeds(cls, value: Any) -> Any:
        if isinstance(value, dict) and not value.get("feed"):
            raise MisfitError("this supply feeds nothing", "Add [[supply.feed]] with 'controller' and 'output'.")
        return value


class PowerEntry(Entry):
    """What holds for all of the house's power."""

    pixel_type: Name | None = None
    """The kind of pixel of all outputs that name none."""
    celsius: Annotated[float, Field(ge=-60, le=150, allow_inf_nan=False)] = 20.0
    """Temperature of the copper."""
    lead: ConductorEntry = ConductorEntry(gauge=16)
    """What leads are made of that name nothing."""
    extension: ConductorEntry | None = None
    """What the cables between props are made of; the wire of the later prop's pixels where nothing is named."""
    connector_amperes: Annotated[float, Field(gt=0, le=1000, allow_inf_nan=False)] | None = None
    """What each connector on strings and leads is rated for."""
