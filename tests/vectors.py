"""Test vectors of the language for other implementations: ``python tests/vectors.py`` writes them anew.

Programs, what they read and what they give, in ``tests/cases/vectors/*.json``. Outputs are worked out by ``second``,
which knows nothing of the compiler, but for those given here beside the program, which were worked out by hand and
which ``second`` has to give as well. They stand there as they are before they are held within 0 and 1.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

import second
from second import shows

FOLDER = Path(__file__).parent / "cases" / "vectors"
GREY = "colour = linear_rgb(1, 1, 1)"
DUSK = [[0.0, [0.01, 0.0, 0.05]], [0.4, [0.6, 0.1, 0.2]], [1.0, [1.0, 0.9, 0.5]]]


def case(code: str, level: list[float] | None = None, **given: Any) -> dict[str, Any]:
    """A program and what it reads; ``level`` by hand where it is given. Without a colour it is white."""
    code = code if "colour =" in code else f"{code}\n{GREY}"
    code = code if "level =" in code else f"level = {code}"
    return {"code": code, **given} | ({"by hand": level} if level is not None else {})


def numbers() -> Iterator[dict[str, Any]]:
    """The ends of the range, and what would have no answer in mathematics."""
    x = {"pixel": {"x": [0.0, 0.5, 1.0, -1.0, 0.25]}, "frame": {"t": 1.0}}
    yield case("v = (x + t + 1) * 1e30\nw = v * v\nlevel = w / w", [1, 1, 1, 1, 1], **x)
    yield case("v = x * t * 1e30\nw = v * v * v\nlevel = w / 3.4028234663852886e29 / 1e9", [0, 1, 1, -1, 1], **x)
    yield case("v = x * t / 1e-30 / 1e-30\nlevel = v - v + x", [0, 0.5, 1, -1, 0.25], **x)
    yield case("big = 1e30 * (2 + x * t)\nhuge = big * big\nlevel = huge * 1e-30 / 3.4028234663852886e8", **x)
    yield case("a = x * t * 1e30 * 1e8\nlevel = length(a, a) / a", **x)
    yield case("a = (1.5 + x * t) * 1e30 * 1e8\nlevel = mix(a, a, 5) / a", [1] * 5, **x)
    yield case("a = (1.5 + x * t) * 1e30 * 1e8\nlevel = smoothstep(-a, a, 0.5 * a)", [0.84375] * 5, **x)
    yield case("level = max(-1, min(1, exp(100 * (x + t)) / 1e19 / 1e19))", [1, 1, 1, 1e-38, 1], **x)
    yield case("x / 0", [0] * 5, **x)
    yield case("t / (x - 0.5)", [-2, 0, 2, -2 / 3, -4], **x)
    yield case("(x + t) % (x * t)", **x)
    yield case("(x - t) % 0.3 / 0.3", **x)
    yield case("(x - t) % -0.3 / 0.3", **x)
    yield case("sqrt(x * t) + inversesqrt(x * t)", [0, 1.5 * 2**0.5, 2, 0, 2.5], **x)
    yield case("(0 * x * t) ** -1 + (x * t) ** 0", [1] * 5, **x)
    yield case("pow(x * t, 3) + pow(x * t, -2) / 100", [0, 0.165, 1.01, -0.99, 0.175625], **x)
    yield case("pow(x * t, 0.5 * t)", **x)
    yield case("pow(x * t, t * 3) / 2 + pow(x * t, t * -2) / 100", **x)
    yield case("log(x * t) / -87.33654475055310898657 + log2(x * t) / -126", [2, None, 0, 2, None], **x)
    yield case("asin(2 * x * t) + acos(2 * x * t)", [math.pi / 2] * 5, **x)
    yield case("asin(2 * x * t) / 4", [0, math.pi / 8, math.pi / 8, -math.pi / 8, None], **x)
    yield case("atan(x * t, -1) / 4 + atan(0 * t * x, 0)", [math.pi / 4, None, None, None, None], **x)
    yield case("smoothstep(0.5, 0.5, x * t) + smoothstep(1, 0, x * t)", [1, 1.5, 1, 1, 0.84375], **x)
    yield case("clamp(x * t, 0.75, 0.25)", [0.25] * 5, **x)
    yield case("exp2(200 * x * t) / exp2(127)", **x)
    yield case("tan(x * t) / 2 + sin(4 * x * t) / 4 + cos(3 * x * t) / 4", **x)


def grammar() -> Iterator[dict[str, Any]]:
    """How strongly signs bind, and what logic gives."""
    x = {"pixel": {"x": [0.0, 0.5, 1.0, -1.0]}, "frame": {"t": 0.5}, "parameters": {"p": 3.0}}
    yield case("-2 ** 2 + 5 + 0 * x * t * p", [1] * 4, **x)
    yield case("2 ** -1 + 2 ** 3 ** 0 / 8 + 0 * x * t * p", [0.75] * 4, **x)
    yield case("1 - 0.5 - 0.25 + x * t * 0 * p", [0.25] * 4, **x)
    yield case("8 / 4 / 4 * x + t * 0 * p", [0, 0.25, 0.5, -0.5], **x)
    yield case("-7 % 3 / 4 + x * t * 0 * p", [0.5] * 4, **x)
    yield case("-x % 3 / p + 0 * t", [0, 2.5 / 3, 2 / 3, 1 / 3], **x)
    yield case("not x and t or p * 0", [1, 0, 0, 0], **x)
    yield case("x and t", [0, 1, 1, 1], **x | {"parameters": {}})
    yield case("x or p * 0 and t", [0, 1, 1, 1], **x)
    yield case("not x == t", [1, 0, 1, 1], **x | {"parameters": {}})
    yield case("(x < t) * 0.5 + (x >= t) * 0.25 + (x != t) * 0.125 + p * 0", [0.625, 0.25, 0.375, 0.625], **x)
    yield case("0.1 if x > t else 0.2 if x == t else 0.3 if x < 0 else 0.4 * p / 3", [0.4, 0.2, 0.1, 0.3], **x)
    yield case("1_0 / 0x28 + .25 * x * p * t * 0", [0.25] * 4, **x)
    yield case("(x +\n t) * 0.5 + 0 * p  # a remark", [0.25, 0.5, 0.75, -0.25], **x)


def functions() -> Iterator[dict[str, Any]]:
    """Every function, of a value that changes with place and time."""
    draw = np.random.default_rng(985)
    x, y = ([round(v, 4) for v in draw.uniform(-1, 1, 12)] for _ in range(2))
    given = {"pixel": {"x": x, "y": y}, "frame": {"t": 0.37}}
    for call in (
        "abs(v)", "sign(v)", "floor(3 * v)", "ceil(3 * v)", "trunc(3 * v)", "round(3 * v)", "fract(3 * v)",
        "mod(v, 0.7)", "min(v, y)", "max(v, y)", "clamp(v, -0.1, y)", "mix(v, y, 0.3)", "mix(v, y, 1.5)", "step(y, v)",
        "smoothstep(-0.5, 0.9, v)", "sqrt(v)", "inversesqrt(1 + v * v)", "pow(abs(v), 1.7)", "exp(v)", "exp2(v)",
        "log(abs(v))", "log2(abs(v))", "sin(9 * v)", "cos(9 * v)", "tan(v)", "asin(v)", "acos(v)", "atan(v)",
        "atan(v, y)", "radians(90 * v)", "degrees(v) / 90", "length(v, y)", "length(v, y, t)", "distance(v, y, 0.2, t)",
        "wrap(3 * v)", "v ** 2", "v ** 3", "v ** 4", "v ** 0",
    ):  # fmt: skip
        yield case(f"v = x + 0.2 * t\nlevel = 0 * y + {call}", **given)


def chance() -> Iterator[dict[str, Any]]:
    """hash and noise: whole numbers, fractions, negative ones, large ones."""
    draw = np.random.default_rng(610)
    x = [0.0, 1.0, -1.0, 7.0, 0.5, 0.25, -0.125, 1000.0, 123456.0, 2.0**40, -(2.0**40), 3.0 / 65536]
    y = [float(v) for v in range(-5, 7)]
    for call in ("hash(x)", "hash(x, t)", "hash(x, y)", "hash(x, y, t)", "hash(x * t)"):
        yield case(f"{call} + 0 * y * t * x", pixel={"x": x, "y": y}, frame={"t": 2.0})
    x, y = ([round(v, 4) for v in draw.uniform(-20, 20, 12)] for _ in range(2))
    for call in ("noise(x)", "noise(x, y)", "noise(x, y, t)", "noise(x + t)", "noise(floor(x), floor(y))"):
        yield case(f"{call} + 0 * y * t * x", pixel={"x": x, "y": y}, frame={"t": 2.7})


def shapes() -> Iterator[dict[str, Any]]:
    """The five shapes and fwidth, thin and wide, with footprints along and across."""
    draw = np.random.default_rng(644)
    count = 10
    x = [(n + 0.5) / count for n in range(count)]
    row = {"pixel": {"x": x}, "frame": {"t": 0.5}, "along": {"x": [0.1] * count}}
    yield case("box(x, t, 0.05)", [0, 0, 0, 0, 0.25, 0.25, 0, 0, 0, 0], **row)
    yield case("box(x, t, 0.5)", [0, 0, 0.5, 1, 1, 1, 1, 0.5, 0, 0], **row)
    yield case("edge(x, t - 0.16)", [0, 0, 0, 0.6, 1, 1, 1, 1, 1, 1], **row)
    yield case("stripes(x + t - 0.5, 0.35)", [1, 1, 1, 0.5, 0, 0, 0, 0, 0, 0], **row)
    yield case("stripes(5 * x + t, 0.5)", [0, 1, 0, 1, 0, 1, 0, 1, 0, 1], **row)
    yield case("tail(x, t, 0.2)", [0, 0, 0, 1 / 12, 7 / 12, 0, 0, 0, 0, 0], **row)
    yield case("band(x, t, 0.04)", [0, 0, 0, 0, 8 / 75, 8 / 75, 0, 0, 0, 0], **row)
    yield case("box(x, t, -1) + tail(x, t, -1) + band(x, t, -1)", [0] * count, **row)
    y, dx, dy, across = ([round(v, 4) for v in draw.uniform(-0.3, 1, count)] for _ in range(4))
    given = {
        "pixel": {"x": x, "y": y}, "frame": {"t": 0.37}, "parameters": {"width": 0.3},
        "along": {"x": dx, "y": dy}, "across": {"x": across},
    }  # fmt: skip
    for call in (
        "band(x * y, t, width)", "box(length(x, y), t, width)", "tail(x - y, t, width)", "edge(atan(y, x), t * width)",
        "stripes(3 * x + t, width)", "stripes(3 * x, t * width)", "band(wrap(2 * x - t), 0, width)",
        "stripes(0.001 * x + t, width)", "box(0.001 * x, 0.0005, width / 1000 * t)", "band(band(x, t, 1), 0.4, width)",
    ):  # fmt: skip
        yield case(f"{call} + 0 * y * width", **given)
    for inner in (
        "x * y", "x / y", "abs(x - t)", "min(x, y)", "max(x, y)", "clamp(x, 0.2, 0.7)", "x if y > t else y",
        "fract(3 * x)",
        "wrap(3 * x)", "x % 0.3", "length(x, y)", "length(x, y, t)", "atan(y, x)", "atan(x)", "floor(x)", "hash(x)",
        "sin(x * t)", "exp(x)", "mix(x, y, t)", "smoothstep(0, 1, x)", "x ** 3", "pow(x, 1.5)", "noise(x, y)",
        "sqrt(x)", "fwidth(x * x)", "t",
    ):  # fmt: skip
        yield case(f"fwidth({inner}) + 0 * y * width * x * t", **given)


def events() -> Iterator[dict[str, Any]]:
    """What rings out after drum strokes, hits and arrivals: at its beginning, half-way, at its end and long after."""
    names = ("low_stroke", "middle_stroke", "high_stroke", "hit", "arrival")
    x = [0.0, 0.5, 1.0, 2.0, -1.0]
    for call in names:
        name = call.removesuffix("_stroke")
        given = {"pixel": {"x": x}, "frame": {f"{name}_strength": 0.8, f"{name}_age": 0.5}}
        yield case(f"{call}(x)", [0, 0, 0.2, 0.45, 0], **given)
        yield case(f"{call}(x * x + 0.125) + {call}(1) - {call}(0)", **given)
    given = {"pixel": {"x": x, "y": [0.3, 0.0, 4.0, 1.5, -0.5]}, "frame": {"t": 0.75}, "along": {"x": [0.1] * 5}}
    yield case("ringing(0.8, 0.5 * y / y, x + 0 * t)", [0, 0.8, 0.2, 0.45, 0], **given)
    yield case("ringing(t, y, x)", **given)
    yield case("ringing(t, 0, x) + ringing(t, 1e30, x) + ringing(-t, -y, x) + ringing(t, y, -x)", **given)
    yield case("fwidth(ringing(t, x, 2)) + fwidth(ringing(x, 0.5, 2)) + fwidth(ringing(t, 0.25, x)) + 0 * y", **given)


def colours() -> Iterator[dict[str, Any]]:
    """Colours, in and out of their range, and what is worked out with them."""
    draw = np.random.default_rng(775)
    x, y = [0.0, 0.25, 0.5, 1.0, -0.5, 1.5], [0.1, 0.9, 0.5, 1.2, 0.3, -0.2]
    given = {"pixel": {"x": x, "y": y}, "frame": {"t": 0.6}}
    for colour in (
        "rgb(x, y, t)", "linear_rgb(x, y, t)", "hsl(360 * x, 0.8, t)", "hsl(720 * x, 2 * y, t)", "hsl(90, t, y)",
        "oklch(t, 0.3 * y, 400 * x)", "oklch(x, 0.1, 30 * t)", "oklch(x, 0.4, 150) * 0.5 + rgb(0, y, t) / 2",
        "mix(rgb(1, 0.5, 0), linear_rgb(x, y, t), t)", "rgb(1, 0.5, 0) - linear_rgb(x, y, t) * linear_rgb(t, t, 1)",
        "2 * rgb(t, 0.2, 0.1) if x > y else rgb(y, x, t) / 0",
    ):  # fmt: skip
        yield case(f"level = x + 0 * y * t\ncolour = {colour}", **given)
    tinted = {"parameters": {"tint": [0.2, 0.4, 1.0]}}
    yield case("level = x + y + t\ncolour = mix(tint, tint * tint, x)", **given, **tinted)
    spectrum = [round(v, 4) for v in draw.random(32)]
    yield case("level = spectrum(x)\ncolour = palette(y * t)", **given, palette=DUSK, spectrum=spectrum)
    yield case("level = spectrum(y) + 0 * t\ncolour = palette(x)", **given, palette=DUSK, spectrum=spectrum)


def light_to_bytes() -> list[dict[str, Any]]:
    """Light, and the bytes that drive a pixel; the first three worked out by hand."""
    draw = np.random.default_rng(1504)
    found = [
        {"light": [0.5, 0.5, 0.5], "order": "RGB", "brightness": 0.5, "gamma": 2.2, "bytes": [28, 28, 28]},
        {"light": [1.0, 0.5, 0.0], "order": "GRB", "brightness": 1.0, "gamma": 1.0, "bytes": [128, 255, 0]},
        {"light": [1.0, 0.5, 0.5], "order": "RGBW", "brightness": 1.0, "gamma": 1.0, "bytes": [127, 0, 0, 128]},
    ]
    for given in found:
        assert shows.bytes_of(**{key: value for key, value in given.items() if key != "bytes"}) == given["bytes"]
    for order in ("RGB", "BRG", "GRBW", "WRGB"):
        for brightness, gamma in ((1.0, 1.0), (0.3, 1.0), (1.0, 2.2), (0.7, 2.8), (0.8, 0.5)):
            light = [round(part, 4) for part in draw.random(3)]
            given = {"light": light, "order": order, "brightness": brightness, "gamma": gamma}
            found.append(given | {"bytes": shows.bytes_of(**given)})
    return found


def fades() -> list[dict[str, Any]]:
    """Strength and progress of cues in a song that slows down: beats in seconds, bars of four."""
    beats = [0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.1, 3.8, 4.6, 5.5, 6.5, 7.5, 8.5]
    seconds = [round(0.35 * n, 2) for n in range(26)]
    found: list[dict[str, Any]] = []
    for cue in (
        {"bars": [1, 3]},
        {"bars": [1, 3], "fade_in": {"beats": 2}, "fade_out": {"bars": 1}},
        {"bars": [2, 3], "fade_in": {"beats": 3}, "fade_out": {"beats": 3}},
        {"bars": [1.5, 2.5], "fade_in": {"seconds": 0.8}, "fade_out": {"seconds": 4}},
        {"times": [1.0, 6.0], "fade_in": {"seconds": 2}, "fade_out": {"beats": 1}},
        {"times": [0.5, 2.0], "fade_in": {"bars": 1}, "fade_out": {"bars": 1}},
    ):
        values = [shows.strength(beats, cue, second) for second in seconds]
        given = {"beats": beats, "cue": cue, "seconds": seconds}
        found.append(given | {"strength": [v[0] for v in values], "progress": [v[1] for v in values]})
    return found


def joined(strands: list[list[float]]) -> list[float]:
    return [value for strand in strands for value in strand]


def places() -> list[dict[str, Any]]:
    """Props in a frame from (-2, -1, -2) to (2, 3, 2): places, seeds, own boxes and changes, strand by strand."""
    props: list[tuple[str, list[list[shows.Point]], shows.Point, shows.Point, dict[str, bool]]] = [
        (
            'shape = "icicles"\nwidth = 3\ndrops = 4\nlengths = [0.5, 0.3]\npitch = 0.1',
            shows.icicles(3, 4, [0.5, 0.3], 0.1), (-1.5, -0.5, 0), (1.5, 0, 0), {"by_count": True},
        ),
        (
            'shape = "sphere"\ndiameter = 2\nrings = 3\npixels = 20',
            shows.sphere(2, [5, 10, 5]), (-1, -1, -1), (1, 1, 1), {},
        ),
        (
            'shape = "grid"\ncolumns = 3\nrows = 4\nwidth = 1.5\nheight = 2\nwiring = "columns"\nzigzag = false',
            shows.columns(3, 4, 1.5, 2), (-0.75, 0, 0), (0.75, 2, 0), {},
        ),
        (
            'shape = "cone"\nheight = 2\nbase = 1.6\nstrings = 5\npixels = 4\nzigzag = false',
            shows.cone(2, 1.6, 5, 4), (-0.8, 0, -0.8), (0.8, 2, 0.8), {"closed": True},
        ),
    ]  # fmt: skip
    found = []
    for shape, strands, low, high, beside in props:
        values = placed(strands, low, high)
        changes = {}
        for name in ("x", "y", "z", "px", "py"):
            along, across = shows.steps(values[name], beside.get("closed", False), beside.get("by_count", False))
            changes |= {f"{name} along": joined(along), f"{name} across": joined(across)}
        flat = {name: joined(rows) for name, rows in values.items()}
        found.append({"layout": f"{HOUSE}{shape}\n", "pixels": flat | changes})
    return found


HOUSE = 'title = "House"\n\n[frame]\nfrom = [-2, -1, -2]\nto = [2, 3, 2]\n\n[[prop]]\nname = "prop"\n'


def placed(strands: list[list[shows.Point]], low: shows.Point, high: shows.Point) -> dict[str, list[list[float]]]:
    """Coordinates of pixels in the frame of HOUSE and in their own box, strand by strand."""

    def share(value: float, start: float, end: float) -> float:
        return shows.held((value - start) / (end - start)) if end - start >= 1e-3 else 0.5

    house = [[(share(p[0], -2, 2), share(p[1], -1, 3), share(p[2], -2, 2)) for p in strand] for strand in strands]
    found = {name: [[p[axis] for p in strand] for strand in house] for axis, name in enumerate("xyz")}
    for axis, name in enumerate(("px", "py")):
        found[name] = [[share(p[axis], low[axis], high[axis]) for p in strand] for strand in strands]
    return found | {"seed": [[shows.seed(p) for p in strand] for strand in house]}


PLAIN = {"bytes": light_to_bytes, "fades": fades, "places": places}
"""What lies round the language: light to bytes, fades, places."""

GROUPS = {
    "numbers": numbers, "grammar": grammar, "functions": functions, "chance": chance, "shapes": shapes,
    "events": events, "colours": colours,
}  # fmt: skip


def outputs(given: dict[str, Any]) -> dict[str, list[float]]:
    """What ``second`` gives for a case."""
    count = len(next(iter(given["pixel"].values())))
    tables = {"palette": second.palette(given.get("palette", DUSK)), "spectrum": given.get("spectrum", [0.0] * 32)}
    found: dict[str, list[float]] = {"level": [], "red": [], "green": [], "blue": []}
    for at in range(count):
        read = {name: values[at] for name, values in given["pixel"].items()}
        steps = {way: {name: values[at] for name, values in given.get(way, {}).items()} for way in ("along", "across")}
        surroundings = {"input": read | given["frame"], "tables": tables, **steps}
        values = second.run(given["code"], given.get("parameters", {}), surroundings)
        for name, value in zip(found, values, strict=True):
            found[name].append(value)
    return found


def worked_out(given: dict[str, Any]) -> dict[str, Any]:
    """The case with its outputs; those by hand take their place, where they agree."""
    found = outputs(given)
    by_hand = given.pop("by hand", None)
    for at, wanted in enumerate(by_hand or ()):
        if wanted is not None:
            assert abs(found["level"][at] - wanted) <= 1e-12, (given["code"], at, found["level"][at], wanted)
            found["level"][at] = float(wanted)
    return given | ({"level by hand": True} if by_hand else {}) | {"outputs": found}


def main() -> None:
    """Write the vectors."""
    FOLDER.mkdir(exist_ok=True)
    for name, group in GROUPS.items():
        lines = ",\n".join(json.dumps(worked_out(each)) for each in group())
        (FOLDER / f"{name}.json").write_text(f"[\n{lines}\n]\n")
    for name, made in PLAIN.items():
        (FOLDER / f"{name}.json").write_text(json.dumps(made(), indent=1) + "\n")


if __name__ == "__main__":
    main()
