"""The float32 lanes against their float64 references, over the ranges that the module states."""

import inspect

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from definitions import GLSL, OURS
from eavesong.kernels import exact
from eavesong.kernels import fast as kernels
from eavesong.language.builtins import OPERATIONS
from support import lanes

FUNCTIONS = tuple(
    (operation.kernel, len(inspect.signature(operation.exact).parameters))
    for operation in OPERATIONS.values()
    if operation.kernel.isidentifier() and operation.kernel not in ("palette", "spectrum")
)
COUNT = 100_000


def fast(name, *arguments):
    return lanes(getattr(kernels, name))(*arguments)


_SINGLE = st.floats(width=32, allow_nan=False, allow_infinity=False)


def both(name, *arguments):
    """Fast and exact results for the same float32 arguments."""
    single = [np.asarray(argument, np.float32) for argument in arguments]
    reference = {"choose": "select"}.get(name, name)
    with np.errstate(all="ignore"):
        expected = getattr(exact, reference)(*(argument.astype(np.float64) for argument in single))
    return fast(name, *single).astype(np.float64), expected


def uniform(low, high, seed=0):
    return np.random.default_rng(seed).uniform(low, high, COUNT)


def spread(seed=0):
    """Numbers of both signs over twelve powers of ten."""
    chance = np.random.default_rng(seed)
    return chance.normal(size=COUNT) * 10 ** chance.uniform(-6, 6, COUNT)


@pytest.mark.parametrize(
    ("name", "arguments", "error"),
    [
        ("sin", uniform(-10_000, 10_000), 1e-6),
        ("cos", uniform(-10_000, 10_000), 1e-6),
        ("asin", uniform(-1.1, 1.1), 1e-6),
        ("acos", uniform(-1.1, 1.1), 1e-6),
        ("srgb_decode", uniform(-0.1, 1.1), 1e-6),
    ],
)
def test_the_error_is_within_its_bound(name, arguments, error):
    got, expected = both(name, arguments)
    np.testing.assert_allclose(got, expected, rtol=0, atol=error)


@pytest.mark.parametrize(
    ("name", "arguments", "share"),
    [("exp2", uniform(-126, 127), 1e-6), ("exp", uniform(-20, 20), 1.1e-6)],
)
def test_the_error_is_within_a_share_of_the_value(name, arguments, share):
    got, expected = both(name, arguments)
    np.testing.assert_allclose(got, expected, rtol=share)


@pytest.mark.parametrize("name", ["log", "log2"])
def test_logarithms_are_right_from_the_smallest_float_up(name):
    got, expected = both(name, 2.0 ** uniform(-126, 127))
    np.testing.assert_allclose(got, expected, rtol=1e-7, atol=1e-6)
    near_one = both(name, 1 + uniform(-1e-3, 1e-3))
    np.testing.assert_allclose(*near_one, rtol=0, atol=1e-6)


def test_atan_is_right_all_round_the_circle():
    got, expected = both("atan", spread(1), spread(2))
    np.testing.assert_allclose(got, expected, rtol=0, atol=1e-6)
    for y, x, angle in ((0, 1, 0), (1, 0, np.pi / 2), (0, -1, np.pi), (-1, 0, -np.pi / 2), (0, 0, 0)):
        assert float(fast("atan", [y], [x])[0]) == pytest.approx(angle, abs=1e-6)


def test_powers_are_right_to_a_few_millionths():
    got, expected = both("pow", uniform(0, 4), uniform(-8, 8, seed=1))
    np.testing.assert_allclose(got, expected, rtol=2e-5, atol=1e-30)


@pytest.mark.parametrize("name", ["noise1", "noise2", "noise3"])
def test_noise_is_right_to_a_millionth(name):
    axes = [uniform(-100, 100, seed) for seed in range(int(name[-1]))]
    np.testing.assert_allclose(*both(name, *axes), rtol=0, atol=1e-6)


PLAIN = [
    "abs", "sign", "floor", "ceil", "trunc", "round", "min", "max", "less", "less_equal", "equal",
    "choose", "step", "sqrt", "fract", "wrap", "divide", "clamp",
]  # fmt: skip


@pytest.mark.parametrize("name", PLAIN)
def test_plain_arithmetic_is_the_exact_result_rounded_once(name):
    arity = dict(FUNCTIONS)[name]
    arguments = [spread(seed) for seed in range(arity)]
    arguments[0][:9] = [0, -0.0, 0.5, -0.5, 1.5, -1.5, 2, -2, 1e9]
    got, expected = both(name, *arguments)
    np.testing.assert_allclose(got, expected.astype(np.float32), rtol=2.4e-7, atol=2**-24)


@pytest.mark.parametrize("number", [8388609.0, 0.49999997, -0.5, -8388609.0, 2.5, 16777215.0])
def test_round_and_wrap_do_not_stumble_over_the_sum_with_a_half(number):
    """round(x) is the nearest whole number, halves upwards; x + 0.5 in float32 would be another number."""
    nearest = np.floor(np.float64(np.float32(number)) + 0.5)
    assert float(fast("round", [number])[0]) == nearest
    assert float(fast("wrap", [number])[0]) == np.float64(np.float32(number)) - nearest


@pytest.mark.parametrize("name", ["mod", "mix", "smoothstep", "length2", "length3", "inversesqrt", "tan"])
def test_composed_arithmetic_is_right_to_a_millionth(name):
    arguments = [uniform(-1, 1, seed) for seed in range(dict(FUNCTIONS)[name])]
    if name == "mod":
        arguments[1] = np.abs(arguments[1]) + 0.5
    if name == "smoothstep":
        arguments[1] = arguments[0] + 0.5
    np.testing.assert_allclose(*both(name, *arguments), rtol=1e-6, atol=1e-6)


@given(st.lists(st.tuples(_SINGLE, _SINGLE), min_size=1, max_size=50))
def test_a_remainder_lies_between_0_and_what_is_divided_by(pairs):
    """x - y floor(x / y) rounds: -7e-6 came out for x = 7 y."""
    x, y = np.array(pairs, np.float32).T
    got = fast("mod", x, y)
    assert ((np.minimum(y, 0) <= got) & (got <= np.maximum(y, 0))).all()


@pytest.mark.parametrize("name", ["hash1", "hash2", "hash3"])
def test_hashes_have_the_same_bits_in_both(name):
    axes = [spread(seed) for seed in range(int(name[-1]))]
    got, expected = both(name, *axes)
    np.testing.assert_array_equal(got, expected)


@given(st.lists(st.floats(width=32, allow_nan=False, allow_infinity=False), min_size=1, max_size=50))
def test_hashes_have_the_same_bits_for_any_number(numbers):
    got, expected = both("hash1", numbers)
    np.testing.assert_array_equal(got, expected)


@pytest.mark.parametrize(("name", "arguments", "value"), GLSL + OURS)
def test_a_function_has_its_defined_value(name, arguments, value):
    assert float(fast(name, *([argument] for argument in arguments))[0]) == pytest.approx(value, rel=3e-6, abs=1e-6)


EXTREMES = np.array(
    [0, -0.0, 1e-45, -1e-45, 1e-38, 1, -1, 0.5, 1e9, -1e9, 3e38, -3e38, np.inf, -np.inf, np.nan], np.float32
)
"""The smallest subnormal, the largest numbers, and what is no number."""


@pytest.mark.parametrize("name", [name for name, _ in FUNCTIONS])
def test_no_function_stops_at_extremes_and_numbers_up_to_1e9_give_finite_results(name):
    """Where a quotient is itself too large for float32 it may be infinite."""
    grid = np.meshgrid(*[EXTREMES] * dict(FUNCTIONS)[name])
    got = fast(name, *grid)
    tame = np.all([np.abs(axis) <= 1e9 for axis in grid], axis=0)
    if name in ("divide", "mod"):
        tame &= (np.abs(grid[1]) >= 1e-20) | (grid[1] == 0)
    assert np.isfinite(got[tame]).all()


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        ("hash1", 0, 1),
        ("noise1", -1e-6, 1 + 1e-6),
        ("srgb_decode", 0, 1),
        ("fract", 0, 1),
        ("wrap", -0.5, 0.5),
        ("asin", -1.5708, 1.5708),
    ],
)
def test_results_stay_in_their_range_for_any_finite_number(name, low, high):
    with np.errstate(all="ignore"):
        got = fast(name, np.concatenate([spread() * 1e3, EXTREMES[:-3]]))
    assert got.min() >= low
    assert got.max() <= high


def test_both_floors_have_functions_of_the_same_names():
    from eavesong.kernels import fast as module

    for operation in OPERATIONS.values():
        if operation.kernel.isidentifier():
            assert hasattr(module, operation.kernel), operation.name
