"""Palettes: those that come with eavesong, named for what they look like, and those that files write out."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import Annotated, Any, ClassVar

from pydantic import AfterValidator, BeforeValidator, Field, Strict

from eavesong.colours import NAMES, Colour, hex_of, is_colour, meant_by, parse_colour, spread
from eavesong.colours import Stop as ColourStop
from eavesong.errors import MisfitError, advise, nearest
from eavesong.slips import ExampleEntry

Lights = tuple[ColourStop, ...]
"""A palette in linear light, as `eavesong.colours.palette_table` takes it."""

BUILT_IN: dict[str, tuple[str, ...]] = {
    "warm white": ("#ffb46b", "#ffd6a1", "#ffb46b"),
    "cool white": ("#cfe2ff", "#ffffff", "#cfe2ff"),
    "candle": ("#3a0f00", "#ff7a1a", "#ffc46b"),
    "ember": ("#1a0000", "#a01000", "#ff4a00", "#ffb020"),
    "frost": ("#0b2a6b", "#4fa8ff", "#e8f6ff"),
    "lagoon": ("#001a4d", "#0066a8", "#1fc7b6", "#bdf5e6"),
    "pine wood": ("#052e12", "#1e7a2e", "#a8c832"),
    "meadow": ("#2f8f2f", "#d8d82a", "#ff7ab8", "#ffffff"),
    "evening sky": ("#2a0845", "#b0206a", "#ff5a36", "#ffc25a"),
    "berry": ("#3b0040", "#a3005f", "#ff3d7f"),
    "midnight": ("#02020f", "#1a1466", "#6a3de8"),
    "holly": ("#c00010", "#ff2a1a", "#0a7a1e", "#12b83a"),
    "peppermint": ("#ff2a3a", "#ffffff", "#ff2a3a", "#ffffff"),
    "paintbox": ("#ff0000", "#ff8c00", "#ffe600", "#00b32d", "#0055ff", "#8a2be2"),
}
"""Name to CSS colours, evenly spaced from position 0 to 1; a show's own palette of the same name comes first."""

RENAMED = {
    "ocean": "lagoon",
    "forest": "pine wood",
    "sunset": "evening sky",
    "candy": "peppermint",
    "rainbow": "paintbox",
}
"""What palettes were called before, to what they are called now."""

USUAL = "warm white"
"""The palette of a cue that names none."""

ALL = "all"
"""Under this name a house says what it has in place of every palette that it does not name."""


def advice_for(name: str, known: Iterable[str], colours: Iterable[str] = ()) -> str:
    """What to write instead of ``name``, which is no ``known`` palette and none of the ``colours``."""
    if name.lower() in RENAMED:
        return f"It is called '{RENAMED[name.lower()]}' now."
    known = tuple(known)
    if name.startswith("#"):
        return "Write three or six digits 0-9 a-f, like #ff8c00."
    colours = tuple(colours)
    if colours and (meant := meant_by(name)):
        return meant
    close = nearest(name, (*known, *colours))
    if close and close not in known:
        return f"Did you mean the colour '{close}'?"
    return advise(name, known, "palette")


ALIKE = 0.8
"""How like a known palette a name has to be to be called a slip where other shows may have one of that name, see
`errors.nearest`: 'rose' is none for 'frost'."""


def slips_of_wishes(
    wished: Iterable[str], others: Collection[str], *, every: bool = False
) -> Iterator[tuple[str, str]]:
    """The names whose palettes a house replaces and that look like slips of the pen, each with what to write instead.

    others: the palettes that shows have of their own. every: whether these are all shows that there are for the house,
    so that a name that none of them knows is a slip, were it like no other.
    """
    wished = tuple(wished)
    known = {*BUILT_IN, *others, ALL}
    for name in wished:
        # What has a line of its own is not meant by another; drafts call palettes by letters, another one in each song.
        near = [each for each in known if each not in wished and _words(each) != _words(name)]
        if name not in known and (every or name.lower() in RENAMED or nearest(name, near, ALIKE)):
            yield name, advice_for(name, near)


def _words(name: str) -> list[str]:
    """The words of a name; single letters are all the same."""
    return [word if len(word) > 1 else "" for word in name.lower().split()]


def named_palette(name: str, own: Mapping[str, Lights] | None = None) -> Lights:
    """The palette called ``name``: one of ``own``, else a built-in one, else a colour. MisfitError for no such name."""
    found = (own or {}).get(name)
    return found or tuple(parse_colour(colour) for colour in BUILT_IN.get(name, (name,)))


def _some(value: Any) -> Any:
    """Colours as they are listed; the one colour, or those of the built-in palette, that a text names."""
    if isinstance(value, str):
        if value not in BUILT_IN and not is_colour(value):
            raise MisfitError(f"no palette or colour is called '{value}'", advice_for(value, BUILT_IN, NAMES))
        return (value,) if is_colour(value) else BUILT_IN[value]
    if isinstance(value, list | tuple) and not value:
        raise MisfitError("a palette needs at least one colour", "Add a colour, like 'gold'.")
    return value


def _as_stop(value: Any) -> Any:
    return {"colour": value} if isinstance(value, str) else value


SHADES = ("warm white", "cool white")
"""Palettes that people take for one colour, which is the first of them."""


def one_colour_of(text: str) -> str:
    """The text of a colour; MisfitError where it is none, or a palette of several."""
    if text in SHADES:
        return BUILT_IN[text][0]
    if text in BUILT_IN and not is_colour(text):
        colours = ", ".join(f'"{colour}"' for colour in BUILT_IN[text])
        raise MisfitError(f"'{text}' is a palette, where one colour belongs", f"Its colours are {colours}.")
    if not is_colour(text) and (close := nearest(text, SHADES, 0.75)):
        raise MisfitError(f"no colour is called '{text}'", f"Did you mean '{close}'?")
    parse_colour(text)
    return text


class PaletteStop(ExampleEntry):
    """One colour of a palette; in the file a plain colour, or a table that says where in the palette it stands."""

    example: ClassVar[str] = '{ colour = "gold", at = 0.5 }'
    colour: Annotated[str, AfterValidator(one_colour_of)]
    """As in CSS Color 4."""
    at: Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)] | None = None
    """Where it stands in the palette, 0 to 1; evenly between its neighbours without."""


Stops = Annotated[
    tuple[Annotated[PaletteStop, BeforeValidator(_as_stop, json_schema_input_type=str | PaletteStop)], ...],
    Strict(False),
    Field(max_length=64),
    BeforeValidator(_some, json_schema_input_type=str | list[str | PaletteStop]),
]


LEAST = 0.1
"""Of the brightest colour of what a house has in place of other palettes, below which another is left out: what lights
something is not to go dark by it."""


def well_lit(lights: Lights) -> tuple[tuple[float, Colour], ...]:
    """The colours of a palette that are more than hardly lit, each with its position 0..1."""
    stops = spread(lights)
    most = max(max(light) for _, light in stops)
    return tuple((at, light) for at, light in stops if max(light) >= LEAST * most)


def light_of(stops: tuple[PaletteStop, ...]) -> Lights:
    """The stops of a file in linear light."""
    return tuple((stop.at, parse_colour(stop.colour)) for stop in stops)


def hexes(lights: Lights) -> tuple[str, ...]:
    """The colours of a palette as ``#rrggbb``."""
    return tuple(hex_of(stop[1] if isinstance(stop[1], tuple) else stop) for stop in lights)
