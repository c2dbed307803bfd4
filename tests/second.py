"""The effect language once more, written from docs/language.md alone: plain Python, one pixel in one moment at a time.

It shares no line with the compiler: a reader of its own, expressions as nested tuples, the change over one pixel by
deriving them, and the formulas of the manual. Slow, and what the vectors in ``tests/cases/vectors`` are worked out with.
"""

from __future__ import annotations

import math
import re
from typing import Any

import numpy as np

END = (2 - 2**-23) * 2.0**127
TOKEN = re.compile(r"\s*(?:(0x[0-9a-f]+|\d[\d_]*\.?\d*(?:e[-+]?\d+)?|\.\d+)|([A-Za-z]\w*)|(\*\*|[<>=!]=|[-+*/%()<>,]))")
Tree = tuple[Any, ...]
"""("number", value), ("input", name), ("along" or "across", name), or (operation, trees …)."""


def number(value: float) -> Tree:
    """A number as written."""
    return ("number", float(value))


# --- reading ---------------------------------------------------------------------------------------------------------


class Reader:
    """Expressions from text, by the table of strengths in the manual."""

    def __init__(self, text: str, names: dict[str, Any]) -> None:
        text = text.strip()
        self.words, at = [], 0
        while at < len(text):
            found = TOKEN.match(text, at)
            assert found, text[at:]
            self.words.append(found.group().strip())
            at = found.end()
        self.at, self.names = 0, names

    def peek(self) -> str:
        return self.words[self.at] if self.at < len(self.words) else ""

    def take(self, *wanted: str) -> str:
        if self.peek() in wanted:
            self.at += 1
            return self.words[self.at - 1]
        return ""

    def choice(self) -> Any:
        value = self.either()
        if not self.take("if"):
            return value
        condition = self.either()
        assert self.take("else")
        other = self.choice()
        return each(lambda chosen, rest: ("choose", condition, chosen, rest), value, other)

    def either(self) -> Any:
        value = self.both()
        while self.take("or"):
            value = ("choose", value, number(1), truth(self.both()))
        return value

    def both(self) -> Any:
        value = self.negation()
        while self.take("and"):
            value = ("choose", value, truth(self.negation()), number(0))
        return value

    def negation(self) -> Any:
        return ("same", self.negation(), number(0)) if self.take("not") else self.comparison()

    def comparison(self) -> Any:
        left = self.total()
        sign = self.take("<", "<=", ">", ">=", "==", "!=")
        if not sign:
            return left
        right = self.total()
        if sign in (">", ">="):
            left, right = right, left
        kind = {"<": "below", ">": "below", "<=": "upto", ">=": "upto"}.get(sign, "same")
        return ("minus", number(1), ("same", left, right)) if sign == "!=" else (kind, left, right)

    def total(self) -> Any:
        value = self.product()
        while sign := self.take("+", "-"):
            kind = {"+": "plus", "-": "minus"}[sign]
            value = each(lambda a, b, kind=kind: (kind, a, b), value, self.product())
        return value

    def product(self) -> Any:
        value = self.signed()
        while sign := self.take("*", "/", "%"):
            kind = {"*": "times", "/": "over", "%": "mod"}[sign]
            value = each(lambda a, b, kind=kind: (kind, a, b), value, self.signed())
        return value

    def signed(self) -> Any:
        if self.take("-"):
            return each(lambda a: ("minus", number(0), a), self.signed())
        return self.signed() if self.take("+") else self.power()

    def power(self) -> Any:
        base = self.atom()
        return power(base, self.signed()) if self.take("**") else base

    def atom(self) -> Any:
        if self.take("("):
            value = self.choice()
            assert self.take(")")
            return value
        word = self.peek()
        self.at += 1
        if word[0].isdigit() or word[0] == ".":
            return number(int(word, 16) if word.startswith("0x") else float(word.replace("_", "")))
        if not self.take("("):
            return self.names[word] if word in self.names else ("input", word)
        arguments = [self.choice()]
        while self.take(","):
            arguments.append(self.choice())
        assert self.take(")")
        return FUNCTIONS[word](*arguments) if word in FUNCTIONS else (word, *arguments)


def each(make: Any, *values: Any) -> Any:
    """``make`` of numbers, or channel by channel where one is a colour (a list of three)."""
    if not any(isinstance(value, list) for value in values):
        return make(*values)
    return [make(*(value[c] if isinstance(value, list) else value for value in values)) for c in range(3)]


def truth(tree: Tree) -> Tree:
    return ("minus", number(1), ("same", tree, number(0)))


# --- functions made of others ----------------------------------------------------------------------------------------


def total(*trees: Tree) -> Tree:
    whole = trees[0]
    for tree in trees[1:]:
        whole = ("plus", whole, tree)
    return whole


def times(*trees: Tree) -> Tree:
    whole = trees[0]
    for tree in trees[1:]:
        whole = ("times", whole, tree)
    return whole


def power(base: Tree, exponent: Tree) -> Tree:
    if exponent[0] == "number" and exponent[1] in (0, 1, 2, 3, 4):
        return times(*[base] * int(exponent[1])) if exponent[1] else number(1)
    return ("pow", base, exponent)


def fwidth(p: Tree) -> Tree:
    return ("plus", ("abs", change(p, "along")), ("abs", change(p, "across")))


def around(d: Tree, w: Tree) -> tuple[Tree, Tree]:
    half = ("times", w, number(0.5))
    return ("minus", d, half), ("plus", d, half)


def band(p: Tree, centre: Tree, width: Tree) -> Tree:
    d, half = ("minus", p, centre), ("times", width, number(0.5))
    w = ("max", fwidth(d), ("times", width, number(1 / 128)))

    def integral(v: Tree) -> Tree:
        q = ("clamp", ("times", v, ("over", number(1), half)), number(-1), number(1))
        inner = ("minus", times(q, q, number(0.2)), number(2 / 3))
        return times(half, ("plus", q, times(q, q, q, inner)))

    low, high = around(d, w)
    mean = ("over", ("minus", integral(high), integral(low)), w)
    return ("choose", ("below", number(0), width), mean, number(0))


def hard(p: Tree) -> Tree:
    return ("max", fwidth(p), number(1e-6))


def above(v: Tree, w: Tree) -> Tree:
    return ("clamp", ("plus", ("over", v, w), number(0.5)), number(0), number(1))


def edge(p: Tree, at: Tree) -> Tree:
    d = ("minus", p, at)
    return above(d, hard(d))


def box(p: Tree, centre: Tree, width: Tree) -> Tree:
    d = ("minus", p, centre)
    low, high = around(d, width)
    return ("max", ("minus", above(high, hard(d)), above(low, hard(d))), number(0))


def tail(p: Tree, head: Tree, reach: Tree) -> Tree:
    d = ("minus", p, head)
    w = hard(d)
    a, b = (("clamp", ("plus", ("over", v, reach), number(1)), number(0), number(1)) for v in around(d, w))
    share = ("max", ("minus", above(("plus", d, reach), w), above(d, w)), number(0))
    return times(share, ("over", ("plus", times(a, a), times(b, ("plus", a, b))), number(3)))


def stripes(p: Tree, share: Tree) -> Tree:
    w, n = hard(p), ("clamp", share, number(0), number(1))
    s = ("fract", around(p, w)[0])
    e = ("plus", s, w)
    first = ("clamp", ("over", ("minus", n, s), w), number(0), number(1))
    rest = ("plus", times(n, ("minus", ("floor", e), number(1))), ("min", ("fract", e), n))
    return ("plus", first, ("over", ("max", rest, number(0)), w))


def hsl(h: Tree, s: Tree, l: Tree) -> list[Tree]:  # noqa: E741
    def channel(n: float) -> Tree:
        k = ("mod", ("plus", number(n), ("over", h, number(30))), number(12))
        inner = ("min", ("min", ("minus", k, number(3)), ("minus", number(9), k)), number(1))
        reach = times(s, ("min", l, ("minus", number(1), l)))
        return ("decode", ("minus", l, times(reach, ("max", number(-1), inner))))

    return [channel(0), channel(8), channel(4)]


ROOTS = (
    (0.3963377773761749, 0.2158037573099136),
    (-0.1055613458156586, -0.0638541728258133),
    (-0.0894841775298119, -1.2914855480194092),
)
LIGHT = (
    (4.076741636075958, -3.307711539258062, 0.2309699031821045),
    (-1.268437973285032, 2.6097573492876887, -0.34131937600265727),
    (-0.004196076138675557, -0.7034186179359363, 1.7076146940746117),
)


def oklch(l: Tree, c: Tree, h: Tree) -> list[Tree]:  # noqa: E741
    angle = ("times", h, number(math.pi / 180))
    a, b = times(c, ("cos", angle)), times(c, ("sin", angle))
    roots = [total(l, times(number(of_a), a), times(number(of_b), b)) for of_a, of_b in ROOTS]
    cubes = [times(root, times(root, root)) for root in roots]
    return [total(*(times(number(w), cube) for w, cube in zip(row, cubes, strict=True))) for row in LIGHT]


def mix(x: Any, y: Any, amount: Tree) -> Any:
    return each(lambda a, b: ("mix", a, b, amount), x, y)


FUNCTIONS: dict[str, Any] = {
    "pow": power,
    "mix": mix,
    "atan": lambda y, x=number(1): ("atan", y, x),
    "radians": lambda x: ("times", x, number(math.pi / 180)),
    "degrees": lambda x: ("times", x, number(180 / math.pi)),
    "distance": lambda a, b, c, d: ("length", ("minus", a, c), ("minus", b, d)),
    "fwidth": fwidth,
    "band": band,
    "box": box,
    "tail": tail,
    "edge": edge,
    "stripes": stripes,
    "palette": lambda p: [("palette", p, c) for c in range(3)],
    "rgb": lambda *channels: [("decode", channel) for channel in channels],
    "linear_rgb": lambda *channels: list(channels),
    "hsl": hsl,
    "oklch": oklch,
}


# --- the change over one pixel ---------------------------------------------------------------------------------------

STEPPED = {"x", "y", "z", "X", "Y", "Z", "u", "along", "px", "py", "turn"}
FLAT = {"floor", "ceil", "trunc", "round", "sign", "step", "hash", "below", "upto", "same"}


_known_changes: dict[tuple[int, str], tuple[Tree, Tree]] = {}
"""By identity, with the tree itself, so that no other gets its identity."""


def change(tree: Tree, way: str) -> Tree:
    """The tree of the change of ``tree`` over one pixel, ``along`` its wire or ``across``."""
    key = id(tree), way
    if key not in _known_changes:
        _known_changes[key] = tree, _change(tree, way)
    return _known_changes[key][1]


def _change(tree: Tree, way: str) -> Tree:
    kind, *parts = tree
    if kind == "input" and parts[0] in STEPPED:
        return (way, parts[0])
    if kind in ("number", "input", "along", "across") or kind in FLAT:
        return number(0)
    d = [change(part, way) for part in parts]
    if kind in CHANGES:
        return CHANGES[kind](tree, parts, d)
    if kind in ("fract", "wrap", "mod"):
        return d[0]
    moved = [[around(part, by)[end] for part, by in zip(parts, d, strict=True)] for end in (1, 0)]
    return ("minus", (kind, *moved[0]), (kind, *moved[1]))


CHANGES: dict[str, Any] = {
    "plus": lambda tree, parts, d: ("plus", *d),
    "minus": lambda tree, parts, d: ("minus", *d),
    "times": lambda tree, parts, d: ("plus", times(d[0], parts[1]), times(d[1], parts[0])),
    "over": lambda tree, parts, d: ("over", ("minus", d[0], times(tree, d[1])), parts[1]),
    "abs": lambda tree, parts, d: times(("sign", parts[0]), d[0]),
    "min": lambda tree, parts, d: ("choose", ("below", *parts), *d),
    "max": lambda tree, parts, d: ("choose", ("below", parts[1], parts[0]), *d),
    "clamp": lambda tree, parts, d: times(("upto", parts[1], parts[0]), ("upto", parts[0], parts[2]), d[0]),
    "choose": lambda tree, parts, d: ("choose", parts[0], d[1], d[2]),
    "length": lambda tree, parts, d: ("over", total(*(times(a, da) for a, da in zip(parts, d, strict=True))), tree),
    "atan": lambda tree, parts, d: (
        "over",
        ("minus", times(parts[1], d[0]), times(parts[0], d[1])),
        ("plus", times(parts[0], parts[0]), times(parts[1], parts[1])),
    ),
}


# --- values ----------------------------------------------------------------------------------------------------------


def held(value: float) -> float:
    return max(-END, min(END, value))


def over(x: float, y: float) -> float:
    return x / y if y else 0.0


def clamp(x: float, low: float, high: float) -> float:
    return min(max(x, low), high)


def mod(x: float, y: float) -> float:
    return clamp(x - y * math.floor(over(x, y)), min(y, 0), max(y, 0)) if y else 0.0


def smoothstep(a: float, b: float, x: float) -> float:
    t = (0.0 if x < a else 1.0) if a == b else clamp((x - a) / (b - a), 0, 1)
    return t * t * (3 - 2 * t)


def exp2(x: float) -> float:
    return 2.0 ** clamp(x, -126, 127)


def log2(x: float) -> float:
    return math.log2(max(x, 2.0**-126))


def raised(x: float, y: float) -> float:
    if y == 0 or x == 0:
        return 1.0 if y == 0 else 0.0
    if x < 0 and y != math.floor(y):
        return 0.0
    sign = -1 if x < 0 and math.fmod(y, 2) != 0 else 1
    return sign * exp2(y * log2(abs(x)))


def decode(value: float) -> float:
    v = clamp(value, 0, 1)
    return v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4


KEYS = (0x9E3779B1, 0x85EBCA77, 0xC2B2AE3D)


def unit(bits: int) -> float:
    n = bits % 2**32
    n = (n ^ n >> 16) * 0x7FEB352D % 2**32
    n = (n ^ n >> 15) * 0x846CA68B % 2**32
    return ((n ^ n >> 16) >> 8) / 2**24


def whole(x: float) -> int:
    return max(-(2**30), min(2**30, math.floor(x)))


def drawn(*values: float) -> float:
    keys = (whole(x) * 0x27D4EB2F + math.floor((x - math.floor(x)) * 65536 + 0.5) for x in values)
    return unit(sum(key * by for key, by in zip(keys, KEYS, strict=False)))


def noise(*values: float) -> float:
    def mixed(axes: tuple[float, ...], bits: int, place: int) -> float:
        if not axes:
            return unit(bits)
        t = axes[0] - math.floor(axes[0])
        share = t**3 * (t * (6 * t - 15) + 10)
        low, high = (mixed(axes[1:], bits + (whole(axes[0]) + up) * KEYS[place], place + 1) for up in (0, 1))
        return low + share * (high - low)

    return mixed(values, 0, 0)


VALUES: dict[str, Any] = {
    "plus": lambda a, b: a + b,
    "minus": lambda a, b: a - b,
    "times": lambda a, b: a * b,
    "over": over,
    "mod": mod,
    "below": lambda a, b: float(a < b),
    "upto": lambda a, b: float(a <= b),
    "same": lambda a, b: float(a == b),
    "choose": lambda condition, a, b: a if condition else b,
    "abs": abs,
    "sign": lambda x: float((x > 0) - (x < 0)),
    "floor": math.floor,
    "ceil": math.ceil,
    "trunc": math.trunc,
    "round": lambda x: math.floor(x) + (x - math.floor(x) >= 0.5),
    "fract": lambda x: x - math.floor(x),
    "wrap": lambda x: x - math.floor(x) - (x - math.floor(x) >= 0.5),
    "min": min,
    "max": max,
    "clamp": clamp,
    "mix": lambda x, y, amount: x * (1 - amount) + y * amount,
    "step": lambda at, x: float(x >= at),
    "smoothstep": smoothstep,
    "sqrt": lambda x: math.sqrt(max(x, 0)),
    "inversesqrt": lambda x: 1 / math.sqrt(x) if x > 0 else 0.0,
    "pow": raised,
    "exp2": exp2,
    "exp": lambda x: exp2(x * math.log2(math.e)),
    "log2": log2,
    "log": lambda x: log2(x) * math.log(2),
    "sin": math.sin,
    "cos": math.cos,
    "tan": lambda x: over(math.sin(x), math.cos(x)),
    "asin": lambda x: math.asin(clamp(x, -1, 1)),
    "acos": lambda x: math.acos(clamp(x, -1, 1)),
    "atan": lambda y, x: math.atan2(y + 0.0, x + 0.0),
    "length": math.hypot,
    "decode": decode,
    "hash": drawn,
    "noise": noise,
}


def palette(stops: list[tuple[float, list[float]]]) -> list[list[float]]:
    """Red, green and blue of the 256 entries of a palette of (place, linear light), mixed in OKLab (CSS Color 4)."""
    to_roots, to_light = np.array([(1.0, *row) for row in ROOTS]), np.array(LIGHT)
    lights = np.array([colour for _, colour in stops])
    labs = np.linalg.inv(to_roots) @ np.cbrt(np.linalg.inv(to_light) @ lights.T)
    at = np.arange(256) / 255
    mixed = np.stack([np.interp(at, [place for place, _ in stops], axis) for axis in labs])
    shown = np.clip(to_light @ (to_roots @ mixed) ** 3, 0, 1)
    return shown.astype(np.float32).astype(float).tolist()


def look_up(entries: list[float], p: float) -> float:
    place = clamp(p, 0, 1) * (len(entries) - 1)
    low = min(math.floor(place), len(entries) - 2)
    return entries[low] + (place - low) * (entries[low + 1] - entries[low])


def value(tree: Tree, given: dict[str, dict[str, Any]], known: dict[int, float]) -> float:
    """What ``tree`` is where ``given`` tells inputs, changes along and across, palette and spectrum."""
    if id(tree) in known:
        return known[id(tree)]
    kind, *parts = tree
    if kind == "number":
        result = parts[0]
    elif kind in ("input", "along", "across"):
        result = given[kind].get(parts[0], 0.0) if kind != "input" else given[kind][parts[0]]
    elif kind == "palette":
        result = look_up(given["tables"]["palette"][parts[1]], value(parts[0], given, known))
    elif kind == "spectrum":
        result = look_up(given["tables"]["spectrum"], value(parts[0], given, known))
    else:
        result = VALUES[kind](*(value(part, given, known) for part in parts))
    known[id(tree)] = held(float(result))
    return known[id(tree)]


def lines(code: str) -> list[tuple[str, str]]:
    """(name, expression) of every line, remarks left out; inside brackets a line may be broken."""
    found, open_brackets = [""], 0
    for line in (line.partition("#")[0] for line in code.splitlines()):
        found[-1] += line + " "
        open_brackets += line.count("(") - line.count(")")
        if not open_brackets:
            found.append("")
    parted = [line.partition("=") for line in found if line.strip()]
    return [(name.strip(), expression) for name, _, expression in parted]


def run(code: str, parameters: dict[str, Any], given: dict[str, dict[str, Any]]) -> list[float]:
    """Level, red, green and blue, before they are held within 0 and 1."""
    names: dict[str, Any] = {"pi": number(math.pi)}
    for name, setting in parameters.items():
        names[name] = [number(held(c)) for c in setting] if isinstance(setting, list) else ("input", name)
    numbers = {name: held(setting) for name, setting in parameters.items() if not isinstance(setting, list)}
    for name, expression in lines(code):
        names[name] = Reader(expression, names).choice()
    known: dict[int, float] = {}
    given = given | {"input": given["input"] | numbers}
    return [value(tree, given, known) for tree in (names["level"], *names["colour"])]
