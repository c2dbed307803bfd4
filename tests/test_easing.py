"""Easing against CSS Easing Level 1 and properties that any easing of its kind must have."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from eavesong.easing import LINEAR, CubicBezier, Easing, Steps, parse_easing
from eavesong.errors import MisfitError

unit = st.floats(0, 1)
height = st.floats(-2, 3)

# Control points: CSS Easing 1, section 2.2. Values to six digits, solved apart from this code.
PUBLISHED = {
    "ease": (0.094796, 0.408511, 0.802403, 0.960459, 0.994316),
    "ease-in": (0.017027, 0.093465, 0.315357, 0.621862, 0.839428),
    "ease-out": (0.160572, 0.378138, 0.684643, 0.906535, 0.982973),
    "ease-in-out": (0.019722, 0.129162, 0.500000, 0.870838, 0.980278),
    "linear": (0.10, 0.25, 0.50, 0.75, 0.90),
}


@pytest.mark.parametrize("name", PUBLISHED)
def test_the_named_curves(name: str) -> None:
    eased = parse_easing(name)([0.10, 0.25, 0.50, 0.75, 0.90])
    assert eased == pytest.approx(PUBLISHED[name], abs=6e-7)


@pytest.mark.parametrize(
    ("text", "values"),
    [
        # CSS Easing 1, section 2.3, at 0, 1/4, 1/2, 3/4 and 1.
        ("steps(4, jump-start)", (0.25, 0.5, 0.75, 1, 1)),
        ("steps(4, start)", (0.25, 0.5, 0.75, 1, 1)),
        ("steps(4, jump-end)", (0, 0.25, 0.5, 0.75, 1)),
        ("steps(4)", (0, 0.25, 0.5, 0.75, 1)),
        ("steps(4, jump-none)", (0, 1 / 3, 2 / 3, 1, 1)),
        ("STEPS( 4 , Jump-Both )", (0.2, 0.4, 0.6, 0.8, 1)),
        ("step-start", (1, 1, 1, 1, 1)),
        ("step-end", (0, 0, 0, 0, 1)),
    ],
)
def test_steps(text: str, values: tuple[float, ...]) -> None:
    assert parse_easing(text)([0, 0.25, 0.5, 0.75, 1]) == pytest.approx(values)


@pytest.mark.parametrize(
    ("easing", "before", "after"),
    [
        # CSS Easing 1, section 2.2: beyond the ends the curve goes on along its tangent; values at -1 and 2.
        (CubicBezier(0.25, 0.1, 0.25, 1.0), -0.4, 1.0),
        (CubicBezier(0.5, 0.25, 0.5, 0.75), -0.5, 1.5),
        (CubicBezier(0.0, 0.9, 0.5, 1.0), -2.0, 1.0),  # x1 = 0: the line to the second point
        (CubicBezier(0.0, 0.5, 0.0, 0.5), 0.0, 1.5),  # both at 0: still before the start
        (CubicBezier(0.5, 0.5, 1.0, 0.2), -1.0, 2.0),  # x2 = 1: the line from the first point
        (CubicBezier(1.0, 0.5, 1.0, 0.5), -0.5, 1.0),  # both at 1: still after the end
        (LINEAR, -1.0, 2.0),
        (Steps(2), -1.0, 2.0),  # section 2.3: steps go on
    ],
)
def test_beyond_the_ends(easing: Easing, before: float, after: float) -> None:
    assert easing([-1.0, 2.0]) == pytest.approx((before, after))


@given(unit, height, unit, height)
def test_every_curve_starts_at_zero_and_ends_at_one(x1: float, y1: float, x2: float, y2: float) -> None:
    assert CubicBezier(x1, y1, x2, y2)([0.0, 1.0]) == pytest.approx((0, 1), abs=1e-12)


@given(unit, unit, unit, unit)
def test_a_curve_with_its_points_inside_the_square_never_turns_back(x1: float, y1: float, x2: float, y2: float) -> None:
    eased = CubicBezier(x1, y1, x2, y2)(np.linspace(-0.5, 1.5, 201))
    assert np.all(np.diff(eased) >= -1e-12)


@given(st.floats(0.01, 0.99), height, st.floats(0.01, 0.99), height, st.integers(0, 64))
def test_points_of_the_curve_are_met_to_a_billionth(x1: float, y1: float, x2: float, y2: float, place: int) -> None:
    # The definition itself, in exact arithmetic: the point at a parameter has this x and must get this y.
    t = Fraction(place, 64)
    x, y = (
        float(3 * (1 - t) ** 2 * t * Fraction(first) + 3 * (1 - t) * t**2 * Fraction(second) + t**3)
        for first, second in ((x1, x2), (y1, y2))
    )
    slope = 3 * ((1 - t) ** 2 * Fraction(x1) + 2 * (1 - t) * t * Fraction(x2 - x1) + t**2 * (1 - Fraction(x2)))
    if slope > Fraction(1, 1000):
        assert CubicBezier(x1, y1, x2, y2)(x) == pytest.approx(y, abs=1e-9)


@given(st.integers(2, 40), st.sampled_from(["jump-start", "jump-end", "jump-none", "jump-both"]))
def test_steps_climb_and_stay_inside(count: int, jump: str) -> None:
    eased = Steps(count, jump)(np.linspace(0, 1, 500))
    assert np.all(np.diff(eased) >= 0)
    assert eased.min() >= 0
    assert eased[-1] == 1


def test_easings_are_values() -> None:
    assert parse_easing("ease") == parse_easing(" Cubic-Bezier(.25, .1, .25, 1) ")
    assert hash(parse_easing("steps(3)")) == hash(parse_easing("steps(3, jump-end)"))
    assert parse_easing("ease-in") != parse_easing("ease-out")


def test_arrays_keep_their_shape() -> None:
    grid = np.linspace(0, 1, 12).reshape(3, 4)
    for text in ("linear", "ease", "steps(3)"):
        assert parse_easing(text)(grid).shape == (3, 4)
        assert parse_easing(text)(0.5).shape == ()


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("ease-inn", r"^no easing is called 'ease-inn'\. Did you mean 'ease-in'\?$"),
        ("bounce", r"^no easing is called 'bounce'\. Known easings: cubic-bezier, ease, "),
        ("cubic-bezir(0,0,1,1)", r"^no easing is called 'cubic-bezir'\. Did you mean 'cubic-bezier'\?$"),
        ("cubic-bezier(0, 1, 1)", r"^cubic-bezier\(\) does not hold four numbers\. Write cubic-bezier\(0\.42, 0"),
        ("cubic-bezier(0, nan, 1, 1)", r"^cubic-bezier\(\) does not hold four numbers\. "),
        ("cubic-bezier(-0.1, 0, 1, 1)", r"^the first and third number of cubic-bezier\(\) lie outside 0 to 1\. "),
        ("steps(2.5)", r"^steps\(\) does not hold a whole number of steps, up to 9999\. Write steps\(4\)"),
        ("steps(4, jump-strat)", r"^steps\(\) knows no 'jump-strat'\. Did you mean 'jump-start'\?$"),
        ("steps(0)", r"^steps\(\) with jump-end needs at least 1\. Write steps\(1, jump-end\)\.$"),
        ("steps(1, jump-none)", r"^steps\(\) with jump-none needs at least 2\. Write steps\(2, jump-none\)\.$"),
        ("x" * 10_000, r"^no easing is called 'x{40}'\. "),
    ],
)
def test_what_is_no_easing_says_what_to_write(text: str, message: str) -> None:
    with pytest.raises(MisfitError, match=message):
        parse_easing(text)
