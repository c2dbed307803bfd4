"""Functions made of others: shapes, colours, whole powers."""

from __future__ import annotations

import math
from typing import Any

from second.change import change
from second.trees import Tree, around, each, number, times, total


def power(base: Tree, exponent: Tree) -> Tree:
    if exponent[0] == "number" and exponent[1] in (0, 1, 2, 3, 4):
        return times(*[base] * int(exponent[1])) if exponent[1] else number(1)
    return ("pow", base, exponent)


def fwidth(p: Tree) -> Tree:
    return ("plus", ("abs", change(p, "along")), ("abs", change(p, "across")))


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


def ringing(strength: Tree, age: Tree, beats: Tree) -> Tree:
    left = ("minus", number(1), ("min", number(1), ("over", age, beats)))
    return ("choose", ("below", number(0), beats), times(strength, times(left, left)), number(0))


def event(name: str) -> Any:
    """What rings out after the last event of a name."""
    return lambda beats: ringing(("input", f"{name}_strength"), ("input", f"{name}_age"), beats)


def mix(x: Any, y: Any, amount: Tree) -> Any:
    return each(lambda a, b: ("mix", a, b, amount), x, y)


FUNCTIONS: dict[str, Any] = {
    "pow": power,
    "mix": mix,
    "atan": lambda y, *x: ("atan", y, *(x or [number(1)])),
    "radians": lambda x: ("times", x, number(math.pi / 180)),
    "degrees": lambda x: ("times", x, number(180 / math.pi)),
    "distance": lambda a, b, c, d: ("length", ("minus", a, c), ("minus", b, d)),
    "fwidth": fwidth,
    "band": band,
    "box": box,
    "tail": tail,
    "edge": edge,
    "stripes": stripes,
    "ringing": ringing,
    "low_stroke": event("low"),
    "middle_stroke": event("middle"),
    "high_stroke": event("high"),
    "hit": event("hit"),
    "arrival": event("arrival"),
    "palette": lambda p: [("palette", p, c) for c in range(3)],
    "rgb": lambda *channels: [("decode", channel) for channel in channels],
    "linear_rgb": lambda *channels: list(channels),
    "hsl": hsl,
    "oklch": oklch,
}
