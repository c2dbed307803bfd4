"""The one table of what the effect language can say: its inputs, its functions, and the operations they become.

A *function* is what an author writes. An *operation* works on single numbers and is what functions are lowered to:
each has a float64 reference in ``kernels.exact`` and a float32 kernel in ``kernels.fast`` of the same name. A function
with a weight is such an operation itself (one for each number of arguments where it has several weights); one
without is made of others in `lower` or `boundaries`. The compiler, the error messages, the documentation and the
tests all read this table.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

from eavesong.kernels import exact

Kind = Literal["number", "colour"]

CONSTANT, FRAME, PIXEL, BOTH = 0, 1, 2, 3
"""Rates, as a set of bits: a value that depends on the frame and on the pixel has both."""

RATE_NAMES = ("constant", "frame", "pixel", "frame and pixel")


@dataclass(frozen=True)
class Input:
    """A quantity that an effect can read."""

    name: str
    rate: int
    unit: str
    about: str

    @property
    def most(self) -> float:
        """A number that its size never comes near."""
        return 16.0 if self.unit in _SHARES else 1e9


_SHARES = (
    "0..1", "house widths", "house heights", "house depths", "wire lengths", "prop widths", "prop heights", "turns",
)  # fmt: skip
"""Units of what runs from 0 to 1."""


def _inputs(rate: int, rows: str) -> tuple[Input, ...]:
    cells = (line.split("|") for line in rows.strip().splitlines())
    return tuple(Input(name.strip(), rate, unit.strip(), about.strip()) for name, unit, about in cells)


FRAME_INPUTS = _inputs(
    FRAME,
    """
    t | seconds | time since the song began
    beat | beats | beats since the first downbeat, whole on every beat; negative in a pick-up
    bar | bars | bars since the first downbeat, whole on every downbeat
    beats_per_bar | beats | beats in this bar
    section | - | which section of the song, from 0
    section_progress | 0..1 | how far through the section
    cue_progress | 0..1 | how far through the cue's span
    cue_beat | beats | beats since the cue's span began
    cue_bar | bars | bars since the cue's span began
    loudness | 0..1 | how loud the song is now
    bass | 0..1 | loudness of the low pitches
    mid | 0..1 | loudness of the middle pitches
    treble | 0..1 | loudness of the high pitches
    onset | 0..1 | how strongly a note or a drum has just begun
    brightness | 0..1 | how bright the song sounds now, from its dullest to its brightest
    """,
)

EVENT_INPUTS = _inputs(
    FRAME,
    """
    low_strength | 0..1 | strength of the last low drum stroke (bass drum)
    low_age | beats | beats since it
    low_count | - | low strokes so far
    middle_strength | 0..1 | strength of the last middle drum stroke (snare, clap, tom)
    middle_age | beats | beats since it
    middle_count | - | middle strokes so far
    high_strength | 0..1 | strength of the last high drum stroke (hi-hat, cymbal, shaker)
    high_age | beats | beats since it
    high_count | - | high strokes so far
    stress_strength | 0..1 | strength of the last stress, a beat on which more begins than on those beside it
    stress_age | beats | beats since it
    stress_count | - | stresses so far
    hit_strength | 0..1 | strength of the last hit: one strong common stroke that stands out
    hit_age | beats | beats since it
    hit_count | - | hits so far
    arrival_strength | 0..1 | strength of the last arrival: the downbeat after a stop or a build
    arrival_age | beats | beats since it
    arrival_count | - | arrivals so far
    stop | 0..1 | strength of the stop that is on, silence inside the music; else 0
    stop_progress | 0..1 | how far through the stop
    fill | 0..1 | strength of the drum fill that is on; else 0
    fill_progress | 0..1 | how far through the fill
    build | 0..1 | strength of the build that is on, bars that grow; else 0
    build_progress | 0..1 | how far through the build
    lead | 0..1 | 1 while a voice or an instrument leads, else 0
    lead_pitch | 0..1 | pitch of the lead, from its lowest note in this song to its highest; stays until the next
    phrase | - | which phrase of the section, from 0
    phrase_progress | 0..1 | how far through the phrase
    phrase_bars | bars | bars of this phrase: 2, 4 or 8 as a rule
    """,
)
FRAME_INPUTS += EVENT_INPUTS

PIXEL_INPUTS = _inputs(
    PIXEL,
    """
    x | house widths | from the left of the house (0) to its right (1), seen from the street
    y | house heights | from the ground (0) to the top (1)
    z | house depths | from the back (0) to the street (1)
    X | metres | from the left of the house
    Y | metres | above the ground
    Z | metres | from the back
    u | wire lengths | along the prop's wire, from its start (0) to its end (1)
    along | metres | along the prop's wire
    wire_length | metres | length of the prop's wire
    px | prop widths | from the left of the prop (0) to its right (1)
    py | prop heights | from the foot of the prop (0) to its top (1)
    turn | turns | around the prop's upright axis, 0 towards the street, counter-clockwise from above
    seed | 0..1 | a random number that belongs to the pixel's place
    centre_x | house widths | x of the middle of the prop
    centre_y | house heights | y of the middle of the prop
    centre_z | house depths | z of the middle of the prop
    number | - | which member of a repeated row the prop is, from 0
    """,
)

INPUTS = {entry.name: entry for entry in FRAME_INPUTS + PIXEL_INPUTS}

VARYING_ALONG_WIRE = ("x", "y", "z", "X", "Y", "Z", "u", "along", "px", "py", "turn")
"""Pixel inputs that change from one pixel to the next; the others are the same all along a prop or pure chance."""

EVENTS = tuple(entry.name for entry in EVENT_INPUTS)
"""Frame inputs that come from the song's events."""

SIGNALS = ("loudness", "bass", "mid", "treble", "onset", "brightness", *EVENTS)
"""Frame inputs that come from the song's sound."""

NAMED_NUMBERS = {"pi": math.pi}
TURN = 2 * math.pi


@dataclass(frozen=True)
class Function:
    """A function that authors call: its arguments by name, how many may be left out, and what it means."""

    name: str
    arguments: tuple[str, ...]
    weights: tuple[int, ...]
    """Of the operation that it is: one, or one for each number of arguments; none where it is made of others."""
    about: str
    source: str = "ours"
    optional: int = 0
    """How many of the last arguments may be left out."""
    result: Kind = "number"

    @property
    def signature(self) -> str:
        """As shown to people: ``noise(x[, y[, z]])``."""
        needed = len(self.arguments) - self.optional
        text = ", ".join(self.arguments[:needed])
        for extra in self.arguments[needed:]:
            text += f"[, {extra}"
        return f"{self.name}({text}{']' * self.optional})"

    def operation(self, count: int) -> str:
        """The operation that it is when called with ``count`` arguments: ``noise2``."""
        return f"{self.name}{count}" if len(self.weights) > 1 else self.name


_GLSL = """
abs(x) | 1 | x without its sign
sign(x) | 1 | 1, 0 or -1
floor(x) | 1 | the whole number at or below x
ceil(x) | 1 | the whole number at or above x
trunc(x) | 1 | the whole part of x
round(x) | 1 | the nearest whole number, halves upwards
fract(x) | 1 | the part of x after the point: x - floor(x)
mod(x, y) | 1 | x - y * floor(x / y), also written x % y: from 0 to y, whatever the sign of x; 0 where y is 0
min(x, y) | 1 | the smaller
max(x, y) | 1 | the larger
clamp(x, low, high) | 1 | min(max(x, low), high): x held within low and high; high where low is above it
mix(x, y, amount) | 1 | x * (1 - amount) + y * amount; colours are mixed in linear light
step(edge, x) | 1 | 0 below the edge, 1 from the edge up
smoothstep(edge0, edge1, x) | 1 | 0 to 1 between the edges, flat at both; step(edge0, x) where they are equal
sqrt(x) | 1 | the square root; 0 below 0
inversesqrt(x) | 1 | 1 / sqrt(x); 0 at and below 0
pow(x, y) | 12 | x to the power y, also written x ** y
exp(x) | 6 | e to the power x
exp2(x) | 6 | 2 to the power x
log(x) | 6 | the natural logarithm, finite at 0
log2(x) | 6 | the logarithm to base 2, finite at 0
sin(x) | 4 | the sine of x radians
cos(x) | 4 | the cosine of x radians
tan(x) | 9 | the tangent of x radians
asin(x) | 5 | the angle in radians whose sine is x, x held within -1 and 1
acos(x) | 5 | the angle in radians whose cosine is x, x held within -1 and 1
atan(y[, x]) | 6 | the angle in radians whose tangent is y, or of the point (x, y); 0 where both are 0
radians(x) | - | degrees to radians
degrees(x) | - | radians to degrees
length(x, y[, z]) | 1, 1 | the distance of the point (x, y, z) from the origin
distance(x1, y1, x2, y2) | - | the distance between two points
fwidth(p) | - | how much p changes over one pixel, along its wire and across to the next wire
"""

_OURS = """
wrap(p) | 1 | signed distance to the nearest whole number, -0.5 to 0.5: repeats what is drawn around 0
band(p, centre, width) | - | a soft band, 1 at its centre, 0 outside its width
box(p, centre, width) | - | a band with hard ends
tail(p, head, reach) | - | 1 at the head, fading out over `reach` below it, dark above it
edge(p, at) | - | 0 below, 1 above, the pixel on the edge in proportion
stripes(p, share) | - | hard stripes, one a unit, lit for the first `share` of it
hash(a[, b[, c]]) | 4, 6, 8 | a random number 0..1 that is always the same for the same arguments
noise(x[, y[, z]]) | 8, 18, 40 | smooth random hills 0..1, about one a unit
spectrum(p) | 4 | how loud the pitch p is now, 0 lowest to 1 highest
ringing(strength, age, beats) | - | strength at age 0, fading to 0 over so many beats
low_stroke(beats) | - | the last low drum stroke, ringing out over so many beats
middle_stroke(beats) | - | the last middle drum stroke, ringing out over so many beats
high_stroke(beats) | - | the last high drum stroke, ringing out over so many beats
hit(beats) | - | the last hit, ringing out over so many beats
arrival(beats) | - | the last arrival, ringing out over so many beats
"""

_COLOURS = """
palette(p) | 4 | the cue's palette at p, 0 its first colour to 1 its last, mixed in OKLab
rgb(r, g, b) | - | a colour from sRGB values 0..1, as on a screen (CSS Color 4)
linear_rgb(r, g, b) | - | a colour from amounts of light 0..1 (srgb-linear in CSS Color 4)
hsl(hue, saturation, lightness) | - | a colour from hue in degrees and shares 0..1 (CSS Color 4)
oklch(lightness, chroma, hue) | - | a colour from OKLCH, hue in degrees (CSS Color 4)
"""


def _function(line: str, source: str, result: Kind) -> Function:
    call, weights, about = (cell.strip() for cell in line.split("|"))
    name, _, inside = call.rstrip(")").partition("(")
    needed, *optional = inside.split("[")
    arguments = (part.strip(" ,]") for part in ",".join([needed, *optional]).split(","))
    return Function(
        name=name,
        arguments=tuple(part for part in arguments if part),
        weights=() if weights == "-" else tuple(int(weight) for weight in weights.split(",")),
        about=about,
        source=source,
        optional=len(optional),
        result=result,
    )


def _functions() -> dict[str, Function]:
    parts: tuple[tuple[str, str, Kind], ...] = (
        (_GLSL, "GLSL 4.60, chapter 8", "number"),
        (_OURS, "ours", "number"),
        (_COLOURS, "ours", "colour"),
    )
    table = (_function(line, source, result) for rows, source, result in parts for line in rows.strip().splitlines())
    return {function.name: function for function in table}


FUNCTIONS = _functions()

OPERATORS = {
    "+": "add",
    "-": "subtract",
    "*": "multiply",
    "/": "divide",
    "%": "mod",
    "**": "pow",
    "0 -": "negate",
    "<": "less",
    "<=": "less_equal",
    ">": "greater",
    ">=": "greater_equal",
    "==": "equal",
    "!=": "not_equal",
    "a and b": "and",
    "a or b": "or",
    "not ": "not",
    "if else": "select",
}
"""Operators by their sign in the tree, and what each is lowered to."""

_UNNAMED = {
    "add": ("+", 1),
    "subtract": ("-", 1),
    "multiply": ("*", 1),
    "negate": ("-", 1),
    "divide": ("divide", 1),
    "less": ("less", 1),
    "less_equal": ("less_equal", 1),
    "equal": ("equal", 1),
    "select": ("choose", 1),
    "srgb_decode": ("srgb_decode", 12),
    "unit": ("unit", 1),
    "hash_high": ("hashed (high)", 1),
    "hash_low": ("hashed (low)", 1),
}
"""Operations that no function is called like: name in ``kernels.fast``, Python operator or, of what never stands in a
loop, words; and weight."""

_PERIODS = {"fract": 1.0, "wrap": 1.0, "sin": TURN, "cos": TURN, "tan": TURN / 2}

_TAME = {"mix": 1e18, "smoothstep": 1e37, "length2": 1e18, "length3": 1e18, "sin": 1e5, "cos": 1e5, "tan": 1e5}


@dataclass(frozen=True)
class Operation:
    """A function of single numbers, with its reference and its kernel."""

    name: str
    exact: Callable[..., Any]
    kernel: str
    """Name in ``kernels.fast``, or a Python operator."""
    cost: int = 1
    """Weight in the size limit of the inner loop, about the number of machine operations divided by 4."""

    @property
    def period(self) -> float | None:
        """Adding this to the first argument changes nothing."""
        return _PERIODS.get(self.name)

    @property
    def tame(self) -> float:
        """For arguments within this the kernel holds; beyond, the one called ``wide_`` and its name is taken."""
        return _TAME.get(self.name, math.inf)

    @property
    def rate(self) -> int:
        """Rate that the operation has by itself."""
        return FRAME if self.name == "spectrum" else CONSTANT


def _operations() -> dict[str, Operation]:
    named = {
        function.operation(count): ("", weight)
        for function in FUNCTIONS.values()
        for count, weight in enumerate(function.weights, start=len(function.arguments) - function.optional)
    }
    return {
        name: Operation(name, exact.table if name in LOOK_UPS else getattr(exact, name), kernel or name, weight)
        for name, (kernel, weight) in (_UNNAMED | named).items()
    }


LOOK_UPS = ("palette", "spectrum")
"""Operations that read a table of the cue or of the frame."""

OPERATIONS = _operations()
