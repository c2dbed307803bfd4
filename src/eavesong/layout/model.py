"""The layout file as pydantic models: the house, its frame and its controllers.

The models check one entry at a time; what only shows when entries meet (names used twice, chains, slots) is
checked where they are put together, in `build` and `patch`. Lengths stay in the file's own units here.
"""

from __future__ import annotations

import ipaddress
import re
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Field, Strict, model_validator

from eavesong.entries import Entry
from eavesong.errors import MisfitError
from eavesong.layout.fields import LAST_UNIVERSE, ORDERS, SLOTS, Length, Name, Place, one_or_more
from eavesong.layout.power import PixelKind, PowerEntry, SupplyEntry
from eavesong.layout.props import AnyProp
from eavesong.layout.sight import PhotoEntry, StreetEntry, named
from eavesong.layout.wire import MOST_PROPS
from eavesong.layout.wishes import HouseWishes
from eavesong.slips import many


class FrameBox(Entry):
    """The box that x, y and z run across, from its left-bottom-back corner to its right-top-front one."""

    start: Place = Field(alias="from")
    """Its left, bottom, back corner."""
    end: Place = Field(alias="to")
    """Its right, top, front corner."""

    @model_validator(mode="after")
    def _from_below_to(self) -> Self:
        if any(low > high for low, high in zip(self.start, self.end, strict=True)):
            raise MisfitError("'from' lies beyond 'to'", "Make 'from' the left, bottom, back corner.")
        return self


Order = Literal[ORDERS]  # type: ignore[valid-type]
Brightness = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]
Gamma = Annotated[float, Field(ge=0.2, le=5, allow_inf_nan=False)]
Nulls = Annotated[int, Field(ge=0, le=10_000)]
Universe = Annotated[int, Field(ge=1, le=LAST_UNIVERSE)]


class ChainLink(Entry):
    """One prop of a chain, with what differs from the rest of its output."""

    prop: str
    """Its name; the name of a row stands for all its members."""
    pixels: Annotated[tuple[Annotated[int, Field(ge=1)], Annotated[int, Field(ge=1)]], Strict(False)] | None = None
    """First and last pixel, counted from 1, of a prop whose pixels are shared by several outputs."""
    reversed: bool = False
    """Whether it is wired from its other end."""
    null_pixels: Nulls = 0
    """Dark pixels before it that only pass the signal on."""
    order: Order | None = None
    """Order of its colours, where it differs from the output's."""
    brightness: Brightness | None = None
    """0 to 1, where it differs from the output's."""
    gamma: Gamma | None = None
    """Where it differs from the output's."""
    pixel_type: Name | None = None
    """Its kind of pixel, where it differs from the output's."""


def _link(value: Any) -> Any:
    """A prop's name alone stands for { prop = name }."""
    return {"prop": value} if isinstance(value, str) else value


class Output(Entry):
    """One connector of a controller and the props wired to it, in order."""

    number: Annotated[int, Field(ge=1, le=10_000)]
    """The connector."""
    chain: Annotated[
        tuple[Annotated[ChainLink, BeforeValidator(_link)], ...], Strict(False), BeforeValidator(one_or_more)
    ] = Field(min_length=1, max_length=MOST_PROPS)
    """The props wired to it, in order."""
    order: Order | None = None
    """Order of the colours on the wire; RGB without it, RGBW where the kind of its pixels has white."""
    null_pixels: Nulls = 0
    """Dark pixels before the first prop that only pass the signal on."""
    brightness: Brightness = 1.0
    """0 to 1, applied to linear light."""
    gamma: Gamma = 1.0
    """The exponent the pixels need; 1 where their light is proportional to the value."""
    universe: Universe | None = None
    """Where it begins, if not at the next free universe."""
    slot: Annotated[int, Field(ge=1, le=SLOTS)] = 1
    """Where it begins in that universe."""
    pixel_type: Name | None = None
    """The kind of its pixels, where it differs from the house's."""


_HOST = re.compile(r"(?!-)[A-Za-z0-9-]{1,63}(?<!-)(\.(?!-)[A-Za-z0-9-]{1,63}(?<!-))*\.?")


def _address(text: str) -> str:
    """A host as RFC 1123, 2.1 spells it, an IP address, or the word multicast."""
    try:
        ipaddress.ip_address(text)
    except ValueError:
        digits = re.fullmatch(r"[0-9.]+", text)
        if len(text) > 253 or digits or not _HOST.fullmatch(text):
            plain = re.sub(r"^[a-z][a-z0-9+.-]*://|[:/].*$", "", text)
            likely = plain if plain != text and _HOST.fullmatch(plain) else "192.0.2.10"
            advice = f"Write '{likely}'{'' if likely == plain else ', a host name'} or 'multicast'."
            raise MisfitError("this is neither an IP address nor a host name", advice) from None
    return text


class ControllerEntry(Entry):
    """A box that takes universes from the network and drives outputs."""

    name: Name
    address: Annotated[str, AfterValidator(_address)] = "multicast"
    """An IP address, a host name or 'multicast'."""
    protocol: Literal["E1.31"] = "E1.31"
    universe: Universe | None = None
    """Its first universe; without it, the next one after the controller before."""
    spanning: bool = False
    """Whether a pixel may be split between two universes."""
    frame_rate_limit: Annotated[float, Field(ge=1, le=1000, allow_inf_nan=False)] | None = None
    """Frames per second it takes at most."""
    at: Place | None = None
    """Where it hangs: data cables to the first pixels are measured from there."""
    outputs: Annotated[int, Field(ge=1, le=10_000)] | None = None
    """How many connectors it has, used or not."""
    output: Annotated[
        tuple[Output, ...], Strict(False), BeforeValidator(many("controller.output")), Field(max_length=1000)
    ] = ()
    """Its connectors."""

    @model_validator(mode="after")
    def _some_output(self) -> Self:
        if not self.output:
            advice = 'Write [[controller.output]] below it, and under that number = 1 and its props: chain = ["roof"].'
            raise MisfitError("a controller has no output", advice)
        return self

    @model_validator(mode="after")
    def _enough_outputs(self) -> Self:
        if self.outputs is not None and self.outputs < len(self.output):
            raise MisfitError(
                f"it has {self.outputs} outputs, and {len(self.output)} are described", "Write 'outputs' as counted."
            )
        return self


class House(HouseWishes):
    """A whole layout file."""

    title: Name
    """What the house is called."""
    units: Literal["m", "cm", "mm", "ft", "in"] = "m"
    """Unit of all lengths in the file."""
    photo: Annotated[PhotoEntry, BeforeValidator(named, json_schema_input_type=str | PhotoEntry)] | None = None
    """A picture of the house: a file beside the layout, or a table that says where in it the house is, too."""
    street: StreetEntry = StreetEntry()
    """Where pictures are seen from."""
    watched_from: Length | None = None
    """How far the nearest watching eye is from the display; 10 m without it."""
    brightness: Brightness = 1.0
    """0 to 1, on top of that of each output: a house that is to be dimmer than others."""
    frame: FrameBox | None = None
    """The box that x, y and z run across; without it, the box round all pixels."""
    prop: Annotated[tuple[AnyProp, ...], Strict(False), BeforeValidator(many("prop"))] = Field(
        min_length=1, max_length=MOST_PROPS
    )
    """The lights."""
    controller: Annotated[tuple[ControllerEntry, ...], Strict(False), BeforeValidator(many("controller"))] = Field(
        default=(), max_length=1000
    )
    """What drives them; without any, the file is a draft."""
    power: PowerEntry = PowerEntry()
    """What holds for all of the house's power."""
    pixel_type: Annotated[tuple[PixelKind, ...], Strict(False), BeforeValidator(many("pixel_type"))] = Field(
        default=(), max_length=100
    )
    """Kinds of pixels beside those that come with eavesong."""
    supply: Annotated[tuple[SupplyEntry, ...], Strict(False), BeforeValidator(many("supply"))] = Field(
        default=(), max_length=1000
    )
    """What feeds the pixels."""


def layout_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of the layout file, for editors that complete and check TOML."""
    schema = House.model_json_schema(by_alias=True)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema, "title": "eavesong layout"}
