"""Names, kinds and counts: what each message says, where, and that all come at once."""

import pytest

from eavesong.language.check import check
from eavesong.language.parse import CodeError, parse

COLOUR = "\ncolour = rgb(1, 1, 1)"


def problems(code, **parameters):
    with pytest.raises(CodeError) as caught:
        check(parse(code), parameters)
    return caught.value.problems


NEVER_CHANGES = "Choose another name."
COLOUR_ADVICE = (
    "Colours can be added, subtracted, multiplied, divided by a number, chosen with if and else, and mixed with mix()."
)

MESSAGES = [
    ("level = brat" + COLOUR, (1, 9, "nothing is called 'brat'", "Did you mean 'beat'?")),
    ("level = bnd(x, 0, 1)" + COLOUR, (1, 9, "there is no function 'bnd'", "Did you mean 'band'?")),
    ("level = len(x)" + COLOUR, (1, 9, "there is no function 'len'", None)),
    ("level = __import__(x)" + COLOUR, (1, 9, "there is no function '__import__'", None)),
    ("level = band" + COLOUR, (1, 9, "'band' is a function", "Call it: band(p, centre, width).")),
    ("x = 1\nlevel = x" + COLOUR, (1, 1, "'x' is already an input", NEVER_CHANGES)),
    ("pi = 3\nlevel = pi" + COLOUR, (1, 1, "'pi' is already a named number", NEVER_CHANGES)),
    ("mix = 3\nlevel = mix" + COLOUR, (1, 1, "'mix' is already a function", NEVER_CHANGES)),
    (
        "a = 1\na = 2\nlevel = a" + COLOUR,
        (2, 1, "'a' is set twice", "Give the second one a name of its own."),
    ),
    (
        "level = 1\ncolor = palette(x)",
        (2, 1, "'color' is set but never used, and 'colour' is never set", "Write 'colour = …'."),
    ),
    ("a = 1\nlevel = 1" + COLOUR, (1, 1, "'a' is set but never used", "Use it, or delete the line.")),
    ("level = a\na = 1" + COLOUR, (1, 9, "nothing is called 'a'", None)),
    ("level = 1", (1, 1, "'colour' is never set", "Add a line 'colour = …'.")),
    ("colour = rgb(1, 1, 1)", (1, 1, "'level' is never set", "Add a line 'level = …'.")),
    (
        "level = rgb(1, 1, 1)" + COLOUR,
        (1, 1, "'level' must be a number, this is a colour", "Set it to a number from 0 (dark) to 1 (full)."),
    ),
    (
        "level = 1\ncolour = 1",
        (
            2, 1, "'colour' must be a colour, this is a number",
            "Use palette(), rgb(), hsl(), oklch(), or a parameter that is a colour.",
        ),
    ),
    ("level = sin(1, 2)" + COLOUR, (1, 9, "sin() takes 1 argument, this has 2", "Write sin(x).")),
    ("level = max(1)" + COLOUR, (1, 9, "max() takes 2 arguments, this has 1", "Write max(x, y).")),
    (
        "level = noise()" + COLOUR,
        (1, 9, "noise() takes 1 to 3 arguments, this has 0", "Write noise(x[, y[, z]])."),
    ),
    ("level = 1\ncolour = palette(x) + 1", (2, 10, "'+' does not take a colour and a number", COLOUR_ADVICE)),
    ("level = 1\ncolour = 1 / palette(x)", (2, 10, "'/' does not take a number and a colour", COLOUR_ADVICE)),
    ("level = 1\ncolour = palette(x) ** 2", (2, 10, "'**' does not take a colour and a number", COLOUR_ADVICE)),
    ("level = 1\ncolour = palette(x) % 2", (2, 10, "'%' does not take a colour and a number", COLOUR_ADVICE)),
    ("level = 1\ncolour = -palette(x)", (2, 10, "'-' does not take a colour", COLOUR_ADVICE)),
    ("level = not palette(x)" + COLOUR, (1, 9, "'not' does not take a colour", COLOUR_ADVICE)),
    (
        "level = palette(x) < palette(y)" + COLOUR,
        (1, 9, "'<' does not take a colour and a colour", COLOUR_ADVICE),
    ),
    ("level = palette(x) and x" + COLOUR, (1, 9, "'and' does not take a colour and a number", COLOUR_ADVICE)),
    (
        "level = 1\ncolour = palette(x) if x else 1",
        (2, 10, "'if … else' does not take a number and a colour and a number", COLOUR_ADVICE),
    ),
    (
        "level = 1\ncolour = mix(palette(x), 1, 0.5)",
        (2, 10, "mix() does not take a colour and a number and a number", COLOUR_ADVICE),
    ),
    ("level = sin(palette(x))" + COLOUR, (1, 9, "sin() does not take a colour", COLOUR_ADVICE)),
    (
        "level = 1\ncolour = rgb(palette(x), 0, 0)",
        (2, 10, "rgb() does not take a colour and a number and a number", COLOUR_ADVICE),
    ),
    (
        "level = 1\ncolour = rgb(255, 0.5, 0)",
        (2, 14, "rgb() takes a share from 0 to 1 here, not 255", "Write 1."),
    ),
    ("level = 1\ncolour = rgb(1, 128, 0)", (2, 17, "rgb() takes a share from 0 to 1 here, not 128", "Write 0.502.")),
    (
        "level = 1\ncolour = hsl(30, 100, 0.5)",
        (2, 18, "hsl() takes a share from 0 to 1 here, not 100", "Write 1."),
    ),
    (
        "level = 1\ncolour = oklch(70, 0.1, 30)",
        (2, 16, "oklch() takes a share from 0 to 1 here, not 70", "Write 0.7."),
    ),
]  # fmt: skip


@pytest.mark.parametrize(("code", "problem"), MESSAGES, ids=[code[:30] for code, _ in MESSAGES])
def test_a_message(code, problem):
    (first, *rest) = problems(code)
    assert first[:3] == problem[:3]
    assert first[3]
    if problem[3] is not None:
        assert first[3] == problem[3]
    assert all(said[0] > 1 for said in rest)


def test_parameters_must_be_used_and_cannot_be_set():
    assert problems("level = 1" + COLOUR, speed="number") == [
        (2, 1, "the parameter 'speed' is never used", "Use it in the code, or delete it.")
    ]
    assert problems("speed = 1\nlevel = speed" + COLOUR, speed="number") == [
        (1, 1, "'speed' is already a parameter", "Choose another name.")
    ]


def test_all_problems_come_at_once_in_the_order_of_the_lines():
    code = "a = brat\nlevel = max(1)\ncolour = palette(x) + 1"
    assert [(line, found) for line, _, found, _ in problems(code, speed="number")] == [
        (1, "'a' is set but never used"),
        (1, "nothing is called 'brat'"),
        (2, "max() takes 2 arguments, this has 1"),
        (3, "the parameter 'speed' is never used"),
        (3, "'+' does not take a colour and a number"),
    ]


@pytest.mark.parametrize(
    "colour",
    [
        "palette(x)", "rgb(1, 0, 0)", "linear_rgb(1, 0, 0)", "hsl(30, 1, 0.5)", "oklch(0.7, 0.1, 30)", "tint",
        "tint + palette(x)", "tint - palette(x)", "tint * palette(x)", "2 * tint", "tint * x", "tint / 2",
        "mix(tint, palette(x), y)", "tint if x else palette(x)",
    ],
)  # fmt: skip
def test_what_makes_a_colour(colour):
    kinds = check(parse(f"level = speed\ncolour = {colour} + tint * 0"), {"tint": "colour", "speed": "number"})
    assert kinds == {"level": "number", "colour": "colour"}
