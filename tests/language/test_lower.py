"""What operators and functions mean that are more than one operation, as constants and as values of pixels."""

import re

import numpy as np
import pytest

from eavesong.language.evaluate import evaluate
from support import effect, surroundings

MEANINGS = [
    ("not 2", 0), ("not 0", 1), ("not -0.5", 0), ("2 and 3", 1), ("2 and 0", 0), ("0 and 2", 0), ("0 or 0", 0),
    ("0 or -3", 1), ("0.2 or 0", 1), ("1 < 2", 1), ("2 < 2", 0), ("2 <= 2", 1), ("2 > 2", 0), ("3 > 2", 1),
    ("2 >= 2", 1), ("1 >= 2", 0), ("2 == 2", 1), ("2 == 3", 0), ("2 != 2", 0), ("2 != 3", 1), ("5 if 2 else 7", 5),
    ("5 if 0 else 7", 7), ("-2 ** 2", -4), ("7 % 3", 1), ("-7 % 3", 2), ("7 % -3", -2), ("1 / 4", 0.25), ("+3", 3),
    ("2 * 3 + 4", 10), ("2 + 3 * 4", 14), ("8 / 2 / 2", 2), ("2 ** 3 ** 2", 512), ("10 - 3 - 2", 5),
    ("atan(1)", np.pi / 4), ("atan(1, -1)", 3 * np.pi / 4), ("radians(180)", np.pi), ("degrees(pi)", 180),
    ("length(3, 4)", 5), ("length(2, 3, 6)", 7), ("distance(1, 2, 4, 6)", 5), ("wrap(0.75)", -0.25),
    ("not 1 < 2", 0), ("1 < 2 and 3 < 4 and 5 < 6", 1), ("0 or 0 or 0 or 1", 1), ("1 and 1 and 0 and 1", 0),
]  # fmt: skip


@pytest.mark.parametrize(("expression", "meaning"), MEANINGS)
def test_a_meaning(expression, meaning):
    """Worked out while the program is made, and where every number comes from a pixel."""
    varying = "".join(f"(x + {part})" if part.isdigit() else part for part in _parts(expression))
    for text in (expression, varying):
        program = effect(f"level = {text}\ncolour = rgb(1, 1, 1)").program
        around = surroundings({"t": [0.0]}, {"x": [0.0, 0.0]})
        value = evaluate(program.graph, program.outputs, around)[program.outputs[0]]
        np.testing.assert_allclose(value, meaning, rtol=1e-12)


def _parts(text):
    """The text cut into whole numbers and what stands between; decimals are left as they are."""
    return [part for part in re.split(r"(?<![\d.])(\d+)(?![\d.])", text) if part]


def test_pi_is_pi():
    program = effect("level = pi / 4\ncolour = rgb(1, 1, 1)").program
    assert program.graph.number(program.outputs[0]) == pytest.approx(np.pi / 4, rel=1e-15)


def test_arithmetic_of_colours_goes_channel_by_channel():
    code = "a = linear_rgb(0.1, 0.2, 0.3)\nb = linear_rgb(0.5, 0.25, 2)\nlevel = 1\ncolour = {}"
    for expression, wanted in [
        ("a + b", (0.6, 0.45, 2.3)),
        ("b - a", (0.4, 0.05, 1.7)),
        ("a * b", (0.05, 0.05, 0.6)),
        ("a * 2 + 0 * b", (0.2, 0.4, 0.6)),
        ("2 * a + 0 * b", (0.2, 0.4, 0.6)),
        ("a / 2 + 0 * b", (0.05, 0.1, 0.15)),
        ("mix(a, b, 0.5)", (0.3, 0.225, 1.15)),
        ("a if 1 else b", (0.1, 0.2, 0.3)),
        ("a if 0 else b", (0.5, 0.25, 2)),
    ]:
        program = effect(code.format(expression)).program
        got = [program.graph.number(node) for node in program.outputs[1:]]
        np.testing.assert_allclose(got, wanted, rtol=1e-12, err_msg=expression)


def test_a_stroke_rings_out_over_as_many_beats_as_are_asked_for():
    """(1 - age / beats) squared: a quarter is left at half of them, nothing at the end, nothing of no beats at all."""
    for call in ("low_stroke({})", "ringing(low_strength, low_age, {})"):
        for age, beats, left in [
            (0.0, 2, 0.8),
            (1.0, 2, 0.2),
            (2.0, 2, 0.0),
            (9.0, 2, 0.0),
            (0.0, 0, 0.0),
            (1e6, 2, 0.0),
        ]:
            program = effect(f"level = {call.format(beats)}\ncolour = rgb(1, 1, 1)").program
            around = surroundings({"low_strength": [0.8], "low_age": [age]}, {"x": [0.0]})
            value = evaluate(program.graph, program.outputs, around)[program.outputs[0]]
            np.testing.assert_allclose(value, left, atol=1e-12)
