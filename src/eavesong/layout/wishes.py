"""What the people of a house wish, whatever show is put on it: their colours, and what stays dark."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, Discriminator, Field, Strict, Tag, ValidationError, ValidationInfo

from eavesong.colours import NAMES, Colour, Hue, hue_of, is_colour, meant_by, parse_colour, spoken_hue
from eavesong.entries import Entry
from eavesong.errors import MisfitError, advise
from eavesong.layout.fields import Name
from eavesong.palettes import (
    ALL,
    BUILT_IN,
    Lights,
    Stops,
    advice_for,
    light_of,
    named_palette,
    one_colour_of,
)

NameOrStops = Annotated[
    Annotated[Name, Tag("name")] | Annotated[Stops, Tag("colours")],
    Discriminator(lambda value: "name" if isinstance(value, str) else "colours"),
]


TABLES = {"palettes": ("names", "palette", f'{ALL} = "warm white"'), "colours": ("colours", "colour", 'red = "blue"')}
"""Tables of wishes: what they are tables of, what stands on the left, and a line of one."""


def _table(value: Any, info: ValidationInfo) -> Any:
    table = str(info.field_name)
    of, each, line = TABLES[table]
    if not isinstance(value, Mapping):
        advice = f"Write a line [{table}], and below it, for instance, {line}."
        raise MisfitError(f"'{table}' is no table of {of}", advice)
    for key in ABOVE & value.keys():
        found = f"'{key}' stands below [{table}], so it is read as the name of a {each}"
        raise MisfitError(found, "Move the line up, above the first [header]: a key belongs to the header above it.")
    return value


ABOVE = frozenset({"unlit", "title", "units", "watched_from", "brightness"})
"""Keys of the house that stand above all tables."""


OneColour = Annotated[str, AfterValidator(one_colour_of)]


def _one_or_more(value: Any) -> Any:
    return [value] if isinstance(value, str) else value


class HouseWishes(Entry):
    """The wishes in a layout file."""

    palettes: Annotated[dict[Name, NameOrStops], BeforeValidator(_table)] = Field(default={}, max_length=200)
    """What this house has in place of a palette that a show asks for: another palette, a colour, or colours of its own.
    Under ``all`` in place of every palette that has no line of its own."""
    colours: Annotated[dict[Name, OneColour], BeforeValidator(_table)] = Field(default={}, max_length=200)
    """The colour that this house has in place of whatever a show has of a hue: of red, crimson and scarlet for
    ``red``."""
    unlit: Annotated[tuple[Name, ...], Strict(False), BeforeValidator(_one_or_more)] = Field(
        default=(), max_length=1000, json_schema_extra={"anyOf": [{"type": "string"}, {"type": "array"}]}
    )
    """Tags and names of props that stay dark, as if they were not there."""

    def replacements(self) -> dict[str, Lights]:
        """The palettes that take the place of others, by the names of those."""
        own = {name: light_of(stops) for name, stops in self.palettes.items() if not isinstance(stops, str)}
        others = {name: named_palette(wish, own) for name, wish in self.palettes.items() if isinstance(wish, str)}
        return own | others

    def recolouring(self) -> dict[str, tuple[Hue, Colour]]:
        """The colours that take the place of hues, by the names of those, in linear light."""
        hues = ((name, spoken_hue(name), parse_colour(colour)) for name, colour in self.colours.items())
        return {name: (hue, light) for name, hue, light in hues if hue is not None}

    def misfits(self, known: Collection[str]) -> Iterator[tuple[Sequence[str | int], str, str]]:
        """What is wrong with them on a house whose props have the ``known`` names and tags: path, found, instead."""
        own = {name for name, stops in self.palettes.items() if not isinstance(stops, str)}
        palettes = {*BUILT_IN, *own}
        for name, wish in self.palettes.items():
            if isinstance(wish, str) and wish not in palettes and not is_colour(wish):
                unwanted = wish.lower().removeprefix("no ")
                advice = f'What is not wanted stands below [colours], with what is: {unwanted} = "gold".'
                told = advice if is_colour(unwanted) else advice_for(wish, palettes, NAMES)
                yield ("palettes", name), f"no palette is called '{wish}'", told
        for name in self.colours:
            if not is_colour(name):
                yield (
                    ("colours", name),
                    f"no colour is called '{name}'",
                    meant_by(name) or advise(name, NAMES, "colour"),
                )
            elif hue_of(parse_colour(name)) is None:
                found = f"'{name}' has no hue, so nothing is told by it"
                yield ("colours", name), found, "Write a colour that has one, such as red, or all = … below [palettes]."
        for number, name in enumerate(self.unlit):
            if name not in known:
                yield ("unlit", number), f"no prop is called or tagged '{name}'", advise(name, known)


def wishes_in(tables: Mapping[str, object]) -> HouseWishes:
    """The wishes in the tables of a layout's text; none where they cannot be read."""
    try:
        wishes = HouseWishes.model_validate({key: tables[key] for key in HouseWishes.model_fields if key in tables})
        wishes.replacements(), wishes.recolouring()
    except (ValidationError, MisfitError):
        return HouseWishes()
    return wishes
