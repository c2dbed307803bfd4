"""Programs whose values run to the ends of the range: both floors hold them there, and agree on everything else."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bounds import bounds_of
from eavesong.kernels.exact import LARGEST
from eavesong.language import effect_names, load_effect
from eavesong.language.builtins import OPERATIONS
from eavesong.language.evaluate import evaluate
from eavesong.language.ranges import range_of
from support import WHITE, effect, level_of, light_compiled, light_exact, surroundings

AROUND = surroundings(
    {"t": [0.0, 0.3, 1.0, 7.5]},
    {"x": [0.0, 0.25, 0.5, 0.75, 1.0, 0.1, 0.9, 0.3], "y": [1.0, 0.5, 0.0, 0.2, 0.6, 0.9, 0.1, 0.4]},
)
_LEAVES = st.sampled_from(
    [
        "x",
        "y",
        "t",
        "x",
        "t",
        "(x + t)",
        "(t - x)",
        "1e30",
        "-1e30",
        "1e19",
        "1e-30",
        "1e-19",
        "0",
        "1",
        "2",
        "-3",
        "0.5",
    ]
)
_FORMS = [
    "({} + {})", "({} - {})", "({} * {})", "({} * {})", "({} * {})", "({} / {})", "({} / {})", "({} % {})", "-{}",
    "abs({})", "min({}, {})", "max({}, {})", "clamp({}, {}, {})", "mix({}, {}, {})", "smoothstep({}, {}, {})",
    "sqrt({})", "exp2({})", "exp({})", "log2({})", "pow({}, {})", "sin({})", "cos({})", "length({}, {})",
    "length({}, {}, {})", "floor({})", "fract({})", "({} if {} < {} else {})",
]  # fmt: skip


def _filled(leaves):
    def fill(form, parts):
        return form.format(*parts[: form.count("{}")])

    return st.builds(fill, st.sampled_from(_FORMS), st.lists(leaves, min_size=4, max_size=4))


_EXPRESSIONS = st.recursive(_LEAVES, _filled, max_leaves=10)


def shown(expressions):
    """A program whose colour shows two values v however large: v by its angle, and the size of v by its logarithm."""
    lines = [f"v{n} = {expression}" for n, expression in enumerate(expressions)]
    return effect(
        "\n".join(lines) + "\nv = v0 * v1 + v2\nlevel = 1\ncolour = linear_rgb(0.5 + atan(v) / pi / 2,"
        " 0.5 + log2(abs(v)) / 300, 0.5 + log2(abs(v1)) / 300)"
    )


@given(st.lists(_EXPRESSIONS, min_size=3, max_size=3))
@settings(max_examples=30)
def test_kernels_and_float64_agree_within_what_rounding_allows(expressions):
    """Each lies within the bounds of interval arithmetic. What is no number would show as 0, outside all bounds."""
    program = shown(expressions).program
    outputs = program.outputs[1:]
    bounds = bounds_of(program.graph, outputs, AROUND.inputs)
    exact = evaluate(program.graph, outputs, AROUND)
    fast = light_compiled(shown(expressions), AROUND)
    for channel, node in enumerate(outputs):
        low, high = bounds[node]
        assert ((low <= exact[node]) & (exact[node] <= high)).all()
        assert ((low - 1e-6 <= fast[channel]) & (fast[channel] <= high + 1e-6)).all()
        assert low.min() > 0.05


@given(st.lists(_EXPRESSIONS, min_size=3, max_size=3))
def test_every_value_lies_between_its_bounds(expressions):
    """So that what is not held never needs to be."""
    graph = shown(expressions).program.graph
    nodes = tuple(range(len(graph.nodes)))
    for node, value in evaluate(graph, nodes, AROUND).items():
        low, high = graph.ranges[node]
        slack = 1e-12 * np.abs(value)
        assert ((low - slack <= value) & (value <= high + slack)).all()
        assert np.abs(value).max() <= LARGEST


@pytest.mark.parametrize(("x", "t"), [([0.0, 0.5], [0.0, 1.0]), ([0.5], [0.0, 1.0]), ([0.0, 0.5], [1.0])])
def test_a_square_past_the_end_is_the_end(x, t):
    """The same whether it is worked out once per frame, once per pixel or in the loop."""
    what = effect(f"v = (x + t + 1) * 1e30\nw = v * v\nlevel = w / w{WHITE}")
    around = surroundings({"t": t}, {"x": x})
    assert (light_compiled(what, around) == 1).all()
    assert (light_exact(what, around) == 1).all()


def test_parameters_are_held_too():
    what = level_of("(p - x * t) / p", "p = { default = 1 }")
    around = surroundings({"t": [0.0, 1.0]}, {"x": [0.0, 0.5]}, {"p": 1e308})
    np.testing.assert_allclose(light_compiled(what, around), 1, rtol=1e-6)
    np.testing.assert_allclose(light_exact(what, around), 1, rtol=1e-6)


def test_shipped_effects_hold_next_to_nothing():
    """Bounds of parameters and inputs rule it out for all but one value in thirty of their loops."""
    programs = [load_effect(name).program for name in effect_names()]
    held = sum(len(program.graph.held & set(program.loop)) for program in programs)
    assert held < sum(len(program.loop) for program in programs) / 30


def test_what_has_no_rule_may_give_anything():
    """A new operation is held until somebody says between which bounds it stays."""
    assert range_of("something new", ((0.0, 1.0),)) == (-np.inf, np.inf)


SAMPLES = np.array([-1e30, -3.7, -1.0, -0.4, -1e-30, 0.0, 1e-30, 0.3, 1.0, 2.5, 7.0, 1e18])


@pytest.mark.parametrize("name", [name for name in OPERATIONS if name not in ("palette", "spectrum")])
def test_the_rule_of_an_operation_holds_for_its_reference(name):
    import inspect

    operation = OPERATIONS[name]
    chance = np.random.default_rng(7)
    for _ in range(60):
        arguments = [np.sort(chance.choice(SAMPLES, 3)) for _ in inspect.signature(operation.exact).parameters]
        with np.errstate(all="ignore"):
            values = operation.exact(*np.meshgrid(*arguments))
        low, high = range_of(name, tuple((float(a[0]), float(a[-1])) for a in arguments))
        slack = 1e-9 * np.abs(values)
        assert ((low - slack <= values) & (values <= high + slack)).all(), arguments
