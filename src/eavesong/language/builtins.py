"""The one table of what the effect language can say: its inputs, its functions, and the operations they become.

A *function* is what an author writes. An *operation* works on single numbers and is what functions are lowered to:
each has a float64 reference in ``kernels.exact`` and a float32 kernel in ``kernels.fast`` of the same name. The
compiler, the error messages, the documentation and the tests all read this table.
"""

from __future__ import annotations

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

NAMED_NUMBERS = {"pi": 3.141592653589793}


@dataclass(frozen=True)
class Operation:
    """A function of single numbers, with its reference and its kernel."""

    name: str
    exact: Callable[..., Any]
    kernel: str
    """Name in ``kernels.fast``, or a Python operator."""
    cost: int = 1
    """Weight in the size limit of the inner loop, about the number of machine operations divided by 4."""
    period: float | None = None
    """Adding this to the first argument changes nothing."""
    rate: int = CONSTANT
    """Rate that the operation has by itself."""


def _operations() -> dict[str, Operation]:
    plain = (
        "abs sign floor ceil trunc round min max clamp mix step smoothstep sqrt inversesqrt "
        "less less_equal equal divide mod length2 length3"
    )
    table = [Operation(name, getattr(exact, name), name) for name in plain.split()]
    table += [
        Operation("add", exact.add, "+"),
        Operation("subtract", exact.subtract, "-"),
        Operation("multiply", exact.multiply, "*"),
        Operation("negate", exact.negate, "-"),
        Operation("select", exact.select, "choose"),
        Operation("fract", exact.fract, "fract", period=1.0),
        Operation("wrap", exact.wrap, "wrap", period=1.0),
        Operation("sin", exact.sin, "sin", 4, period=2 * NAMED_NUMBERS["pi"]),
        Operation("cos", exact.cos, "cos", 4, period=2 * NAMED_NUMBERS["pi"]),
        Operation("tan", exact.tan, "tan", 9, period=NAMED_NUMBERS["pi"]),
        Operation("palette", exact.table, "palette", 4),
        Operation("spectrum", exact.table, "spectrum", 4, rate=FRAME),
    ]
    costly = {
        "pow": 12, "exp": 6, "exp2": 6, "log": 6, "log2": 6, "asin": 5, "acos": 5, "atan": 6, "srgb_decode": 12,
        "hash1": 4, "hash2": 6, "hash3": 8, "noise1": 8, "noise2": 18, "noise3": 40,
    }  # fmt: skip
    table += [Operation(name, getattr(exact, name), name, cost) for name, cost in costly.items()]
    return {operation.name: operation for operation in table}


OPERATIONS = _operations()


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


@dataclass(frozen=True)
class Function:
    """A function that authors call: its arguments by name, how many may be left out, and what it means."""

    name: str
    arguments: tuple[str, ...]
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


def _functions() -> dict[str, Function]:
    table = [_glsl(line) for line in _GLSL.strip().splitlines()]
    table += [_ours(line, "number") for line in _OURS.strip().splitlines()]
    table += [_ours(line, "colour") for line in _COLOURS.strip().splitlines()]
    return {function.name: function for function in table}


def _split(line: str) -> tuple[str, tuple[str, ...], int, str]:
    call, _, about = line.partition("|")
    name, _, inside = call.strip().rstrip(")").partition("(")
    needed, *optional = inside.split("[")
    arguments = [part.strip(" ,]") for part in ",".join([needed, *optional]).split(",")]
    return name, tuple(part for part in arguments if part), len(optional), about.strip()


def _glsl(line: str) -> Function:
    name, arguments, optional, about = _split(line)
    return Function(name, arguments, about, "GLSL 4.60, chapter 8", optional)


def _ours(line: str, result: Kind) -> Function:
    name, arguments, optional, about = _split(line)
    return Function(name, arguments, about, optional=optional, result=result)


_GLSL = """
abs(x) | x without its sign
sign(x) | 1, 0 or -1
floor(x) | the whole number at or below x
ceil(x) | the whole number at or above x
trunc(x) | the whole part of x
round(x) | the nearest whole number, halves upwards
fract(x) | the part of x after the point: x - floor(x)
mod(x, y) | x - y * floor(x / y), also written x % y; 0 where y is 0
min(x, y) | the smaller
max(x, y) | the larger
clamp(x, low, high) | x held within low and high
mix(x, y, amount) | x * (1 - amount) + y * amount; colours are mixed in linear light
step(edge, x) | 0 below the edge, 1 from the edge up
smoothstep(edge0, edge1, x) | 0 to 1 between the edges, flat at both
sqrt(x) | the square root; 0 below 0
inversesqrt(x) | 1 / sqrt(x); 0 at and below 0
pow(x, y) | x to the power y, also written x ** y
exp(x) | e to the power x
exp2(x) | 2 to the power x
log(x) | the natural logarithm, finite at 0
log2(x) | the logarithm to base 2, finite at 0
sin(x) | the sine of x radians
cos(x) | the cosine of x radians
tan(x) | the tangent of x radians
asin(x) | the angle in radians whose sine is x
acos(x) | the angle in radians whose cosine is x
atan(y[, x]) | the angle in radians whose tangent is y, or of the point (x, y)
radians(x) | degrees to radians
degrees(x) | radians to degrees
length(x, y[, z]) | the distance of the point (x, y, z) from the origin
distance(x1, y1, x2, y2) | the distance between two points
fwidth(p) | how much p changes over one pixel, along its wire and across to the next wire
"""

_OURS = """
wrap(p) | signed distance to the nearest whole number, -0.5 to 0.5: repeats what is drawn around 0
band(p, centre, width) | a soft band, 1 at its centre, 0 outside its width
box(p, centre, width) | a band with hard ends
tail(p, head, reach) | 1 at the head, fading out over `reach` below it, dark above it
edge(p, at) | 0 below, 1 above, the pixel on the edge in proportion
stripes(p, share) | hard stripes, one a unit, lit for the first `share` of it
hash(a[, b[, c]]) | a random number 0..1 that is always the same for the same arguments
noise(x[, y[, z]]) | smooth random hills 0..1, about one a unit
spectrum(p) | how loud the pitch p is now, 0 lowest to 1 highest
ringing(strength, age, beats) | strength at age 0, fading to 0 over so many beats
low_stroke(beats) | the last low drum stroke, ringing out over so many beats
middle_stroke(beats) | the last middle drum stroke, ringing out over so many beats
high_stroke(beats) | the last high drum stroke, ringing out over so many beats
hit(beats) | the last hit, ringing out over so many beats
arrival(beats) | the last arrival, ringing out over so many beats
"""

_COLOURS = """
palette(p) | the cue's palette at p, 0 its first colour to 1 its last, mixed in OKLab
rgb(r, g, b) | a colour from sRGB values 0..1, as on a screen (CSS Color 4)
linear_rgb(r, g, b) | a colour from amounts of light 0..1 (srgb-linear in CSS Color 4)
hsl(hue, saturation, lightness) | a colour from hue in degrees and shares 0..1 (CSS Color 4)
oklch(lightness, chroma, hue) | a colour from OKLCH, hue in degrees (CSS Color 4)
"""

FUNCTIONS = _functions()
