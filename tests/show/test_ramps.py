"""Ramps: between two values, never beyond."""

import json
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from eavesong.colours import parse_colour
from eavesong.easing import parse_easing
from eavesong.errors import ShowError
from eavesong.show import Show, show_schema
from eavesong.show.ramps import Ramp

LINEAR = parse_easing("linear")


def test_numbers_run_evenly_without_an_easing() -> None:
    np.testing.assert_allclose(Ramp(0.2, 0.6, LINEAR).at([0, 0.25, 0.5, 1]), [0.2, 0.3, 0.4, 0.6])


def test_steps_jump_as_in_css() -> None:
    """CSS Easing 1, 2.3: steps(2, jump-end) is 0 up to the half, 0.5 from there on, and 1 at the end."""
    ramp = Ramp(0, 10, parse_easing("steps(2, jump-end)"))
    np.testing.assert_allclose(ramp.at([0, 0.49, 0.5, 0.99, 1]), [0, 0, 5, 5, 10])


def test_colours_are_mixed_in_oklab() -> None:
    """Of grey, OKLab's L is the cube root of linear light (Ottosson 2020): half-way from black to white is 1/8."""
    np.testing.assert_allclose(Ramp((0.0, 0.0, 0.0), (1.0, 1.0, 1.0), LINEAR).at([0.5]), [[0.125] * 3], atol=1e-6)


numbers = st.floats(-1e300, 1e300)


@given(numbers, numbers, st.floats(0, 1), st.sampled_from(["linear", "ease-in", "cubic-bezier(0.3, -2, 0.7, 3)"]))
def test_a_value_lies_between_the_two_and_meets_both(start: float, end: float, progress: float, easing: str) -> None:
    low, value, high = Ramp(start, end, parse_easing(easing)).at([0, progress, 1])
    assert (low, high) == (start, end)
    assert min(start, end) <= value <= max(start, end)


def test_a_show_gives_ramps_of_numbers_and_colours(read: Callable[[str], Show]) -> None:
    show = read(
        '[[cue]]\neffect = "glow"\n'
        'parameters.strength = { from = 0.1, to = 0.6, easing = "ease-in" }\n'
        'parameters.tint = { from = "red", to = "navy" }\n'
    )
    assert show.parameters_of(show.cues[0]) == {
        "strength": Ramp(0.1, 0.6, parse_easing("ease-in")),
        "tint": Ramp(parse_colour("red"), parse_colour("navy"), LINEAR),
    }


@pytest.mark.parametrize(
    ("ramp", "told"),
    [
        ("{ from = 0.1 }", "'to' is missing"),
        ("{ from = 0.1, too = 1, to = 1 }", "'too' is not a key here"),
        ("{ from = 0.1, to = 7 }", "7 is above the most, 1"),
        ("{ from = -1, to = 1 }", "-1 is below the least, 0"),
        ('{ from = 0, to = "red" }', "'strength' is a number"),
        ('{ from = 0, to = 1, easing = "eese" }', "no easing is called 'eese'"),
        ("{ from = 0, to = [1] }", "neither a number nor a colour"),
    ],
)
def test_what_is_wrong_with_a_ramp_is_told(read: Callable[[str], Show], ramp: str, told: str) -> None:
    with pytest.raises(ShowError) as raised:
        read(f'[[cue]]\neffect = "glow"\nparameters = {{ strength = {ramp} }}\n')
    (problem,) = raised.value.problems
    assert problem.place.startswith("line 3, cue 1, parameters, strength")
    assert told in problem.found


def test_the_schema_knows_ramps() -> None:
    definition = show_schema()["$defs"]["FromTo"]
    assert set(definition["properties"]) == {"from", "to", "easing"}
    assert "FromTo" in json.dumps(show_schema()["$defs"]["Cue"]["properties"]["parameters"])
