"""Footprints: how much a value changes over one pixel, against the difference of its values half a pixel away."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavesong.language.evaluate import evaluate
from support import level_of, surroundings

STEP = 1e-4
X, Y = (axis.ravel() for axis in np.meshgrid(np.linspace(0.07, 0.93, 9), np.linspace(0.11, 0.89, 9)))


def level(expression, x=X, y=Y, t=1.3, **more):
    around = surroundings({"t": [t]}, {"x": x, "y": y}, **more)
    program = level_of(expression).program
    return np.broadcast_to(evaluate(program.graph, program.outputs, around)[program.outputs[0]], (1, x.size))[0]


def footprint(expression, dx=STEP, dy=0.7 * STEP):
    return level(f"fwidth({expression})", step={"x": dx, "y": dy})


def difference(expression, dx=STEP, dy=0.7 * STEP):
    """The change over one pixel that lies along (dx, dy)."""
    half = dx / 2, dy / 2
    return np.abs(level(expression, X + half[0], Y + half[1]) - level(expression, X - half[0], Y - half[1]))


SMOOTH = [
    "x", "y", "2 * x", "x + y", "x - 3 * y", "-x", "x * y", "x / (1 + y)", "x * x * x", "x ** 0.7", "sin(7 * x)",
    "cos(5 * y)", "tan(x)", "exp(x)", "exp2(-x)", "log(x)", "log2(y)", "sqrt(x)", "inversesqrt(x)", "abs(x - 0.5)",
    "min(x, y)", "max(x, y)", "clamp(x, 0.2, 0.6)", "mix(x, y, 0.3)", "mix(x, 2, y)", "smoothstep(0, 1, x)",
    "length(x, y)", "length(x, y, 2)", "distance(x, y, 0.5, -0.5)", "atan(y, x)", "atan(x)", "asin(x)", "acos(x)",
    "noise(3 * x)", "noise(3 * x, 2 * y)", "noise(3 * x, 2 * y, t)", "x if t > 1 else y", "radians(90 * x)",
    "x * t", "t - x", "x % 2", "fract(x / 2)", "wrap(x / 4)", "band(x, 0.5, 2)", "pow(x, y)",
]  # fmt: skip


@pytest.mark.parametrize("expression", SMOOTH)
def test_the_chain_rule_agrees_with_the_difference(expression):
    """Within a share of a thousand but right at a kink, where the difference straddles two slopes."""
    got, wanted = footprint(expression), difference(expression)
    close = np.abs(got - wanted) <= 1e-3 * wanted + 1e-9
    assert close.mean() > 0.85 if "abs" in expression or "m" in expression[:3] else close.all()


@pytest.mark.parametrize(
    "expression", ["floor(5 * x)", "ceil(5 * x)", "round(5 * x)", "trunc(5 * x)", "sign(x - 0.5)", "step(0.5, x)",
                   "x < 0.5", "x <= 0.5", "x == 0.5", "hash(x)", "hash(x, y)", "t", "4"],
)  # fmt: skip
def test_jumps_and_what_no_place_changes_have_no_footprint(expression):
    np.testing.assert_array_equal(footprint(expression), 0)


def test_a_pattern_that_starts_again_is_not_blurred_there():
    """At the jump of fract the values differ by nearly 1; the change is that of its argument."""
    np.testing.assert_allclose(footprint("fract(10 * x)"), 10 * STEP, rtol=1e-9)
    np.testing.assert_allclose(footprint("wrap(10 * x + t)"), 10 * STEP, rtol=1e-9)
    np.testing.assert_allclose(footprint("(10 * x) % 0.3"), 10 * STEP, rtol=1e-9)


def test_the_angle_has_no_jump_behind():
    """atan(y, x) turns by step / radius everywhere, also where it jumps from pi to -pi."""
    angle = np.linspace(0, 2 * np.pi, 73)
    x, y = np.cos(angle), np.sin(angle)
    step = {"x": -STEP * y, "y": STEP * x}
    np.testing.assert_allclose(level("fwidth(atan(y, x))", x, y, step=step), STEP, rtol=1e-6)


def test_along_and_across_are_added_up():
    both = level("fwidth(x + 2 * y)", step={"x": STEP}, across={"y": 3 * STEP})
    np.testing.assert_allclose(both, STEP + 6 * STEP)


def test_a_footprint_is_never_negative():
    np.testing.assert_allclose(level("fwidth(-3 * x)", step={"x": -STEP}), 3 * STEP)


def test_what_is_the_same_all_along_a_prop_has_no_footprint():
    from support import effect

    for name in ("seed", "centre_x", "number", "wire_length"):
        program = effect(f"level = fwidth({name} * 2)\ncolour = rgb(1, 1, 1)").program
        assert program.graph.number(program.outputs[0]) == 0


@given(
    st.lists(
        st.sampled_from(["a = fwidth({})", "a = band({}, 0, 1)", "a = sin({})", "a = {} + {}"]), min_size=1, max_size=60
    )
)
@settings(max_examples=30)
def test_deep_programs_are_worked_out_or_refused_quickly(forms):
    """Footprints of footprints grow; what grows too far is refused while it grows."""
    import time

    from eavesong.errors import EffectError
    from support import WHITE, effect

    lines, last = [], "x + t"
    for number, form in enumerate(forms):
        lines.append(form.replace("a", f"a{number}", 1).replace("{}", last))
        last = f"a{number}"
    begun = time.process_time()
    try:
        effect("\n".join(lines) + f"\nlevel = {last}{WHITE}")
    except EffectError as fault:
        assert "the code " in str(fault)  # noqa: PT017
    assert time.process_time() - begun < 3
