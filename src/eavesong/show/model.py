"""The show file as pydantic models: what may stand in a ``*.show.toml``, and what each key means.

The models check one cue at a time; what takes the effects, or the whole file, is checked in `load`.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Mapping
from itertools import pairwise
from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Discriminator,
    Field,
    Strict,
    Tag,
    model_validator,
)

from eavesong.easing import Easing, parse_easing
from eavesong.errors import MisfitError, ShowError, advise
from eavesong.files import parse_toml, plain_text
from eavesong.kernels.blend import MODES
from eavesong.music.kinds import KINDS
from eavesong.palettes import Stops
from eavesong.show.selection import parse_selector
from eavesong.slips import ExampleEntry
from eavesong.words import NUMBER, seconds_on_clock, song_time_meant

BLENDS = tuple(MODES)
"""W3C Compositing and Blending Level 1, plus-lighter of Level 2; ``normal`` is read as ``source-over``."""

WAYS = ("bars", "beats", "times", "sections", "kinds")
"""The ways to say when a cue is lit; a cue uses one of them, or none for the whole song. Only sections and kinds go
together: the kinds count in songs that have no section with such a label."""

TURNS = ("last", "odd", "even")

FURTHEST = 100_000.0
"""The largest bar, beat or second that is read."""


def _one_or_more(value: Any) -> Any:
    if not isinstance(value, str | list | tuple) or not value:
        raise MisfitError("this is neither a text nor a list of texts", "Write one in quotes, or several in brackets.")
    return [value] if isinstance(value, str) else value


def _one_range_or_more(value: Any) -> Any:
    if not isinstance(value, list | tuple) or not value:
        raise MisfitError("this is not a start and an end", "Write [1, 9], or several: [[1, 9], [17, 25]].")
    return value if any(isinstance(part, list | tuple) for part in value) else [value]


def _pair(value: Any) -> Any:
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise MisfitError("this is not a start and an end", "Write two numbers, like [1, 9].")
    return value


def _forwards(span: tuple[float, float]) -> tuple[float, float]:
    start, end = (f"{value:g}" for value in span)
    if span[0] == span[1]:
        longer = f"[{start}, {span[1] + 1:g}]"
        raise MisfitError(f"[{start}, {end}] has no length: the end is not part of it", f"Write {longer}.")
    if span[0] > span[1]:
        raise MisfitError(f"[{start}, {end}] ends before it starts", f"Write [{end}, {start}].")
    return span


def _in_house(span: tuple[float, float]) -> tuple[float, float]:
    if span[0] < 0 or span[1] > 1:
        start, end = (f"{value:g}" for value in span)
        shares = f"[{min(max(span[0], 0), 0.9):g}, {min(max(span[1], 0.1), 1):g}]"
        if span[0] >= 0 and 10 <= span[1] <= 100:
            shares = f"[{span[0] / 100:g}, {span[1] / 100:g}] where they are percent"
        raise MisfitError(
            f"[{start}, {end}] reaches beyond the house, which goes from 0 to 1",
            f"Write shares of the house, not lengths: {shares}, or [0, 0.5] for the first half.",
        )
    return span


def _clock(value: Any) -> Any:
    """Times on the clock, ``"1:02.5"``, become seconds wherever they stand in a list."""
    if isinstance(value, list | tuple):
        return [_clock(part) for part in value]
    if not isinstance(value, str):
        return value
    if (seconds := seconds_on_clock(value)) is None:
        raise MisfitError(f"'{value:.40}' is no time of a song", song_time_meant(value))
    return seconds


def _bar_began(value: Any) -> Any:
    if not isinstance(value, list | tuple) or not 2 <= len(value) <= 4:
        raise MisfitError(
            "this is not a bar and the second at which it began",
            'Write two numbers, like [9, 16.5], what the section is called that began with it, [9, 16.5, "B"], and its '
            'kind, [9, 16.5, "B", "high"].',
        )
    return [*value, "", ""][:4]


def _apart(spans: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
    ordered = sorted(spans)
    for (a, b), (c, d) in pairwise(ordered):
        if c < b:
            joined = f"[{a:g}, {max(b, d):g}]"
            raise MisfitError(
                f"[{a:g}, {b:g}] and [{c:g}, {d:g}] overlap", f"Join them to {joined}, or write two cues."
            )
    return tuple(ordered)


def _valid_selector(text: str) -> str:
    parse_selector(text)
    return text


def _valid_easing(text: str) -> str:
    parse_easing(text)
    return text


def _blend(value: Any) -> Any:
    if value == "normal":
        return "source-over"
    if isinstance(value, str) and value not in BLENDS:
        adds = value.lower() in ("add", "additive", "plus", "sum")
        advice = "Light that adds up is 'plus-lighter'." if adds else advise(value[:40], BLENDS, "blend")
        raise MisfitError(f"no blend is called '{value:.40}'", advice)
    return value


def _section_kind(value: Any) -> Any:
    if isinstance(value, str) and value not in KINDS:
        advice = f"{advise(value[:40], KINDS, 'kind')} A section's own label goes to 'sections'."
        raise MisfitError(f"no kind of section is called '{value:.40}'", advice)
    return value


def _turns(value: Any) -> Any:
    listed = value if isinstance(value, list | tuple) else [value]
    for each in listed:
        number = isinstance(each, int) and not isinstance(each, bool) and 1 <= each <= 1000
        if not number and each not in TURNS:
            raise MisfitError("this is no turn", "Write a number from 1, 'last', 'odd' or 'even', or a list of them.")
    if not listed:
        raise MisfitError("there is no turn in it", "Write one, like 2 or 'last', or delete the line.")
    return listed


_LENGTH = re.compile(rf"\s*({NUMBER})\s*(s|secs?|seconds?|beats?|bars?)\s*")


def _as_fade(value: Any) -> Any:
    if isinstance(value, str) and (found := _LENGTH.fullmatch(value)):
        unit = {"s": "seconds", "be": "beats", "ba": "bars"}[found[2][:1] if found[2][0] == "s" else found[2][:2]]
        raise MisfitError("a fade is no text", f"Write {{ {unit} = {found[1].replace(',', '.')} }}.")
    return {"beats": value} if isinstance(value, int | float) and not isinstance(value, bool) else value


def _tables(value: Any) -> Any:
    if isinstance(value, Mapping):
        raise MisfitError("'cue' is a single table", "Write [[cue]], in double brackets, above every cue.")
    return value


def is_finite(number: float) -> bool:
    """Whether a number is one that calculations can take; a whole number in a file may be too large for that."""
    return abs(number) <= sys.float_info.max


def _number_or_text(value: Any) -> Any:
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise MisfitError("a parameter is neither a number nor a colour", "Write a number, or a colour in quotes.")
    if not isinstance(value, str) and not is_finite(value):
        raise MisfitError("a parameter is not a finite number", "Write a number.")
    return value


Line = Annotated[str, Field(max_length=200), AfterValidator(plain_text)]
Word = Annotated[str, Field(min_length=1, max_length=80), AfterValidator(plain_text)]
Position = Annotated[float, Field(ge=-FURTHEST, le=FURTHEST, allow_inf_nan=False)]
Amount = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]
Length = Annotated[float, Field(ge=0, le=FURTHEST, allow_inf_nan=False)]
Range = Annotated[tuple[Position, Position], BeforeValidator(_pair), AfterValidator(_forwards), Strict(False)]
Part = Annotated[Range, AfterValidator(_in_house)]
MOST_RANGES = 1000
"""Spans that a cue may list."""
Ranges = Annotated[
    tuple[Range, ...],
    Strict(False),
    Field(max_length=MOST_RANGES),
    BeforeValidator(_one_range_or_more, json_schema_input_type=tuple[float, float] | list[tuple[float, float]]),
    AfterValidator(_apart),
]
Moment = float | Annotated[str, Field(pattern=r"^[0-9:.]+$")]
"""A time of a song as it may stand in the file."""
Times = Annotated[
    Ranges, BeforeValidator(_clock, json_schema_input_type=tuple[Moment, Moment] | list[tuple[Moment, Moment]])
]
BarBegan = Annotated[
    tuple[Position, Length, Line, Line],
    BeforeValidator(
        _bar_began,
        json_schema_input_type=tuple[Position, Length]
        | tuple[Position, Length, Line]
        | tuple[Position, Length, Line, Line],
    ),
    Strict(False),
]
Blend = Annotated[str, BeforeValidator(_blend), Field(json_schema_extra={"enum": [*BLENDS, "normal"]})]
SectionKind = Annotated[str, BeforeValidator(_section_kind), Field(json_schema_extra={"enum": list(KINDS)})]
Turn = Annotated[int, Field(ge=1, le=1000)] | Literal["last", "odd", "even"]
"""Which of the times that a section or a kind comes: its number from 1, the last one, or every second one."""
NumberOrText = Annotated[
    float | Annotated[str, Field(max_length=200)],
    BeforeValidator(_number_or_text, json_schema_input_type=float | str),
]


class FromTo(ExampleEntry):
    """A parameter that runs from one value to another while a span of the cue goes by."""

    example: ClassVar[str] = '{ from = 0.1, to = 0.6, easing = "ease-in" }'
    start: NumberOrText = Field(alias="from")
    end: NumberOrText = Field(alias="to")
    easing: Annotated[str, AfterValidator(_valid_easing)] = "linear"


Parameter = Annotated[
    Annotated[NumberOrText, Tag("value")] | Annotated[FromTo, Tag("ramp")],
    Discriminator(lambda value: "ramp" if isinstance(value, Mapping | FromTo) else "value"),
]


NameOrStops = Annotated[
    Annotated[Word, Tag("name")] | Annotated[Stops, Tag("colours")],
    Discriminator(lambda value: "name" if isinstance(value, str) else "colours"),
]


class Box(ExampleEntry):
    """A part of the house, both ends included: 0..1 left to right (x), ground to top (y), back to street (z)."""

    example: ClassVar[str] = "{ x = [0, 0.5] }"
    x: Part | None = None
    y: Part | None = None
    z: Part | None = None


class Fade(ExampleEntry):
    """How long a cue takes to come or go, in beats, bars or seconds; a bare number in the file is beats."""

    example: ClassVar[str] = "{ beats = 2 }"
    beats: Length | None = None
    bars: Length | None = None
    seconds: Length | None = None
    easing: Annotated[str, AfterValidator(_valid_easing)] = "linear"

    @model_validator(mode="after")
    def _one_length(self) -> Self:
        if [self.beats, self.bars, self.seconds].count(None) != 2:
            raise MisfitError("a fade has one length, in 'beats', 'bars' or 'seconds'", "Write { beats = 2 }.")
        return self

    @property
    def curve(self) -> Easing:
        """The easing, ready to call."""
        return parse_easing(self.easing)


FadeOrBeats = Annotated[Fade, BeforeValidator(_as_fade, json_schema_input_type=float | Fade)]


def misfit_of_ways(keys: Mapping[str, Any]) -> MisfitError | None:
    """What is wrong with a cue that has these keys; None when nothing is."""
    ways = [way for way in WAYS if keys.get(way) is not None]
    by_section = set(ways) <= {"sections", "kinds"}
    if len(ways) > 1 and not by_section:
        named = " and ".join(f"'{way}'" for way in ways)
        return MisfitError(f"a cue has {named}", "Keep one of them, or write two cues.")
    if keys.get("every") is not None and by_section:
        return MisfitError("'every' has no 'bars', 'beats' or 'times' to repeat", "Add, for instance, 'bars = [1, 2]'.")
    if keys.get("turn") and not (ways and by_section):
        return MisfitError(
            "'turn' has no 'sections' or 'kinds' to count", "Add, for instance, 'sections = \"chorus\"'."
        )
    return None


class Cue(ExampleEntry):
    """One effect, on some props, for some of the song."""

    effect: Word
    name: Word | None = None
    on: Annotated[
        tuple[Annotated[str, AfterValidator(_valid_selector)], ...],
        Strict(False),
        Field(max_length=20),
        BeforeValidator(_one_or_more, json_schema_input_type=str | list[str]),
    ] = ("all",)
    within: Box | None = None
    bars: Ranges | None = None
    beats: Ranges | None = None
    times: Times | None = None
    sections: (
        Annotated[
            tuple[Word, ...],
            Strict(False),
            Field(max_length=100),
            BeforeValidator(_one_or_more, json_schema_input_type=str | list[str]),
        ]
        | None
    ) = None
    kinds: (
        Annotated[
            tuple[SectionKind, ...],
            Strict(False),
            Field(max_length=100),
            BeforeValidator(_one_or_more, json_schema_input_type=SectionKind | list[SectionKind]),
        ]
        | None
    ) = None
    turn: Annotated[
        tuple[Turn, ...],
        Strict(False),
        Field(max_length=100),
        BeforeValidator(_turns, json_schema_input_type=Turn | list[Turn]),
    ] = ()
    order: Annotated[
        tuple[Annotated[str, AfterValidator(_valid_selector)], ...],
        Strict(False),
        Field(max_length=100),
        BeforeValidator(_one_or_more, json_schema_input_type=str | list[str]),
    ] = ()
    every: Annotated[float, Field(ge=0.25, le=FURTHEST, allow_inf_nan=False)] | None = None
    parameters: Annotated[dict[Word, Parameter], Field(max_length=100)] = Field(default_factory=dict)
    palette: NameOrStops | None = None
    blend: Blend = "source-over"
    opacity: Amount = 1.0
    fade_in: FadeOrBeats = Fade(beats=0)
    fade_out: FadeOrBeats = Fade(beats=0)
    keep: bool = False
    """Whether the cue stays when the show is drafted anew."""

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        if misfit := misfit_of_ways({way: getattr(self, way) for way in (*WAYS, "every", "turn")}):
            raise misfit
        ranges = self.bars or self.beats or self.times
        if self.every and ranges and self.every < (extent := ranges[-1][1] - ranges[0][0]) - 1e-6:
            raise MisfitError("'every' is shorter than what it repeats", f"Write every = {extent:g}, or more.")
        return self


class ShowFile(ExampleEntry):
    """A whole show file."""

    title: Line = ""
    song: Line | None = None
    beats: Line | None = None
    sections: Line | None = None
    allow_flashes: bool = False
    """Whether more than three flashes in a second are meant: reports and previews then warn of them."""
    bars_began: Annotated[tuple[BarBegan, ...], Strict(False), Field(max_length=1000)] = ()
    """The bars at which the sections of the song began when the show was written, and that after the last, each with
    its second, with what the section was called, and its kind: `check` tells where they begin elsewhere now, as happens
    when beats or sections are corrected, which are joined or of another kind, and which cues name sections or kinds
    that are other parts of the song now."""
    bar_beats: Annotated[int, Field(ge=1, le=10_000)] | None = None
    """How many beats most bars had when the show was written: `check` tells cues that count bars in beats where that is
    another number now."""
    licence: Line = ""
    """Who may use the show, and how; whoever unpacks it is told."""
    credits: Annotated[
        tuple[Line, ...],
        Strict(False),
        Field(max_length=50),
        BeforeValidator(_one_or_more, json_schema_input_type=str | list[str]),
    ] = ()
    """Who made it."""
    palettes: Annotated[dict[Word, Stops], Field(max_length=200)] = Field(default_factory=dict)
    palettes_from: Annotated[
        dict[Word, Annotated[tuple[Word, ...], Strict(False), Field(max_length=200)]], Field(max_length=200)
    ] = Field(default_factory=dict)
    """Which of the show's own palettes were made from one that has a name, ``{ holly = ["a", "a beside"] }``, as a
    draft makes them: what a house has in place of that one takes their place, too."""
    cues: Annotated[
        tuple[Cue, ...],
        Strict(False),
        Field(alias="cue", max_length=2000),
        BeforeValidator(_tables, json_schema_input_type=list[Cue]),
    ] = ()


FLASH_WARNING = "This show may flash more than three times a second."
"""What stands on pictures and reports of a show that allows it."""


def flashes_allowed(text: str) -> bool:
    """Whether the show file's ``text`` says ``allow_flashes = true``; False for text that is no show."""
    named = "allow_flashes" in text or "\\" in text  # a key may be written with escapes; a long show takes a while
    try:
        return named and parse_toml(text, "show", ShowError).get("allow_flashes") is True
    except ShowError:
        return False


def show_schema() -> dict[str, Any]:
    """The JSON Schema of show files, for editors."""
    return ShowFile.model_json_schema(by_alias=True)
