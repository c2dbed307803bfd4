"""Folding changes no value: identities, constant parts, and periods that keep an hour of beats exact."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavesong.language import lower as lowering
from eavesong.language.evaluate import evaluate
from eavesong.language.lower import lower
from eavesong.language.parse import parse
from support import effect, level_of, light_compiled, light_exact, surroundings

SPECIAL = np.array([0.0, 1.0, -1.0, 0.5, -0.5, 2.0, -3.0, 1e-3, 123.456, -7e4, 1e6])
"""Numbers with which an identity might fail."""

KINDS = {"p": "number", "q": "number"}


def lowered(expression, *, folding=True):
    """The graph of an expression of beat, x and the parameters p and q, with or without folding."""
    lines = parse(f"level = {expression}\ncolour = linear_rgb(p, q, beat)")
    if folding:
        graph, outputs = lower(lines, KINDS)
        return graph, outputs[0]
    kept = lowering.folded
    lowering.folded = lambda *_: None
    try:
        graph, outputs = lower(lines, KINDS)
    finally:
        lowering.folded = kept
    return graph, outputs[0]


def value(graph, node, p=0.7, q=-1.3):
    around = surroundings({"beat": SPECIAL}, {"x": SPECIAL, "y": SPECIAL[::-1]}, {"p": p, "q": q})
    return np.broadcast_to(evaluate(graph, [node], around)[node], (len(SPECIAL), len(SPECIAL)))


IDENTITIES = [
    ("x + 0", "x"), ("0 + x", "x"), ("x - 0", "x"), ("0 - x", "-x"), ("x - x", "0"), ("x * 0", "0"), ("0 * x", "0"),
    ("x * 1", "x"), ("1 * x", "x"), ("-1 * x", "-x"), ("x / 1", "x"), ("0 / x", "0"), ("x / 0", "0"), ("-(-x)", "x"),
    ("x ** 0", "1"), ("x ** 1", "x"), ("x ** 2", "x * x"), ("x ** 3", "x * x * x"), ("mix(x, y, 0)", "x"),
    ("mix(x, y, 1)", "y"), ("x if 1 else y", "x"), ("x if 0 else y", "y"), ("x if y else x", "x"),
    ("2 + 3 * 4", "14"), ("sin(0)", "0"), ("max(2, 3)", "3"), ("1 / 0", "0"), ("sqrt(-1)", "0"), ("7 % -3", "-2"),
]  # fmt: skip


@pytest.mark.parametrize(("long", "short"), IDENTITIES)
def test_an_identity_folds_and_keeps_its_value(long, short):
    graph, node = lowered(long)
    simpler, end = lowered(short)
    assert len(graph.needed((node,))) <= len(simpler.needed((end,)))
    # A power by way of its logarithm is itself right to a few units in the last place.
    np.testing.assert_allclose(value(graph, node), value(*lowered(long, folding=False)), rtol=1e-14, atol=0)


@pytest.mark.parametrize(
    "expression",
    [
        "x / 3", "x / p", "beat / p", "x / beat", "x / 1e-30", "x * (beat / p)", "(x + beat) ** 4", "x ** -1",
        "x ** 0.5", "beat ** p", "p ** q",
    ],
)  # fmt: skip
def test_rearranged_quotients_and_powers_keep_their_value(expression):
    np.testing.assert_allclose(
        value(*lowered(expression)), value(*lowered(expression, folding=False)), rtol=1e-12, atol=1e-12
    )


def test_a_division_by_what_changes_less_often_is_a_product_in_the_loop():
    """And where that is 0, the quotient is 0, as x / 0 is."""
    graph, node = lowered("(x + beat) / q")
    assert graph.nodes[node].operation == "multiply"
    for q in (0.0, 2.0):
        np.testing.assert_allclose(value(graph, node, q=q), value(*lowered("(x + beat) / q", folding=False), q=q))


PERIODIC = ["sin({})", "cos({})", "tan({}) / 1e3", "fract({})", "wrap({})", "({}) % 1", "({}) % p", "mod({}, -0.3)"]
SUMS = ["x + beat", "x - beat", "beat - x", "2 * (x + beat)", "-(x + 3 * beat) * p", "x * y + beat * q - (beat + 1)"]


@pytest.mark.parametrize("function", PERIODIC)
@pytest.mark.parametrize("total", SUMS)
def test_the_frames_part_of_a_periodic_function_is_held_within_a_period(function, total):
    graph, node = lowered(function.format(total))
    assert "mod" in {graph.nodes[part].operation for part in graph.needed((node,))}
    got, plain = value(graph, node), value(*lowered(function.format(total), folding=False))
    # The reference works in float64 too: at 1e6 beats its sines are right to about 1e-9; a jump may flip over.
    off = np.abs(got - plain)
    length = {"fract({})": 1.0, "wrap({})": 1.0, "({}) % 1": 1.0, "({}) % p": 0.7, "mod({}, -0.3)": 0.3}.get(function)
    if length:
        off = np.abs(off - length * np.round(off / length))
    assert np.quantile(off, 0.9) < 1e-7


def test_what_is_reduced_already_is_left_alone():
    graph, _ = lowered("fract(x + beat % 1)")
    assert sum(node.operation == "mod" for node in graph.nodes) == 1


@pytest.mark.parametrize(
    "code",
    [
        "0.5 + 0.5 * sin(6 * x + pi * beat)",
        "fract(4 * x - 0.37 * beat)",
        "(4 * x - 0.37 * beat) % 1",
        "abs(wrap(x - beat / 3))",
    ],
)
def test_an_hour_of_beats_costs_no_precision(code):
    """At beat 8,000 float32 tells steps of 1/2,048 apart; the loop never sees such a number."""
    x = np.linspace(0, 1, 301)
    around = surroundings({"beat": [8000.0, 8000.123, 8191.77]}, {"x": x})
    what = level_of(code)
    off = np.abs(light_compiled(what, around)[0] - light_exact(what, around)[0])
    if "fract" in code or "%" in code:
        off = np.minimum(off, 1 - off)
    assert off.max() < 2e-6
    single = np.float32(8000.123)
    assert abs(float(single) - 8000.123) > 100 * off.max()


def test_numbers_past_all_bounds_are_held_within_what_the_loop_can_hold():
    huge = " * ".join(["1e30"] * 12)
    for code in (f"x * beat * {huge}", f"x * beat * ({huge} - 2 * {huge})", f"x ** ({huge})", "x * beat / 1e-310"):
        around = surroundings({"beat": [0.0, 1.0, -1.0]}, {"x": [0.0, 0.5, 1.0, -1.0]})
        assert np.isfinite(light_compiled(level_of(code), around)).all()


# --- any expression --------------------------------------------------------------------------------------------------

_LEAVES = st.sampled_from(["x", "y", "beat", "p", "q", "0", "1", "2", "0.25", "-1", "pi"])
_SMOOTH = ["{} + {}", "{} - {}", "{} * {}", "-({})", "sin({})", "cos({})", "max({}, {})", "min({}, {})", "abs({})"]
_SMOOTH += ["mix({}, {}, {})", "({}) ** 2", "clamp({}, -1, {})", "({}) / 2", "{} if beat < 1 else {}", "atan({}, 2)"]


def _filled(children):
    def fill(form, parts):
        return "(" + form.format(*parts[: form.count("{}")]) + ")"

    return st.builds(fill, st.sampled_from(_SMOOTH), st.lists(children, min_size=3, max_size=3))


@given(st.recursive(_LEAVES, _filled, max_leaves=12))
@settings(max_examples=200)
def test_any_smooth_expression_keeps_its_value(expression):
    got, plain = value(*lowered(expression)), value(*lowered(expression, folding=False))
    # Sines of large numbers lose a share of 1e-16 of their argument; compare where that is small.
    tame = np.abs(plain) < 1e6
    np.testing.assert_allclose(got[tame], plain[tame], rtol=1e-6, atol=1e-3)


def test_colours_fold_channel_by_channel():
    what = effect("level = 1\ncolour = mix(rgb(1, 0, 0), linear_rgb(0, 1, x), 0.25) / 2 + rgb(0, 0, 0)")
    around = surroundings({"beat": [0.0]}, {"x": [0.0, 0.5, 1.0]})
    np.testing.assert_allclose(
        light_exact(what, around)[:, 0].T, [[0.375, 0.125, 0], [0.375, 0.125, 0.0625], [0.375, 0.125, 0.125]]
    )
