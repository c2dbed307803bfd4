"""The float64 meaning of every function: GLSL 4.60, chapter 8, and what is ours where GLSL leaves it undefined."""

import inspect
import warnings

import numpy as np
import pytest

from definitions import GLSL, OURS
from eavesong.colours import srgb_encode
from eavesong.kernels import exact
from eavesong.language.builtins import OPERATIONS

pytestmark = pytest.mark.filterwarnings("ignore:overflow encountered in scalar multiply")  # of 32-bit hashes

COLUMN = np.array([-3.5, -1.25, -1.0, -0.5, -0.0, 0.0, 0.3, 0.5, 1.0, 2.5, 7.0])


@pytest.mark.parametrize(("name", "arguments", "value"), GLSL + OURS)
def test_a_function_has_its_defined_value(name, arguments, value):
    got = getattr(exact, name)(*(np.array(argument) for argument in arguments))
    assert float(got) == pytest.approx(value, rel=1e-12, abs=1e-12)


@pytest.mark.parametrize(
    ("name", "counterpart"),
    [
        ("abs", np.abs), ("sign", np.sign), ("floor", np.floor), ("ceil", np.ceil), ("trunc", np.trunc),
        ("sin", np.sin), ("cos", np.cos), ("tan", np.tan), ("exp", np.exp), ("exp2", np.exp2),
    ],
)  # fmt: skip
def test_a_function_of_one_number_is_numpys(name, counterpart):
    np.testing.assert_allclose(getattr(exact, name)(COLUMN), counterpart(COLUMN), rtol=1e-12, atol=1e-12)


@pytest.mark.parametrize(
    ("name", "counterpart"),
    [("min", np.minimum), ("max", np.maximum), ("mod", np.mod), ("atan", np.arctan2), ("length2", np.hypot)],
)
def test_a_function_of_two_numbers_is_numpys(name, counterpart):
    x, y = np.meshgrid(COLUMN + 0.1, COLUMN + 0.137)
    np.testing.assert_allclose(getattr(exact, name)(x, y), counterpart(x, y), rtol=1e-12, atol=1e-12)


@pytest.mark.parametrize("name", [name for name in OPERATIONS if name not in ("palette", "spectrum")])
def test_every_function_is_finite_for_every_finite_argument(name):
    """Arguments within 1e6, the ends of every domain among them."""
    function = OPERATIONS[name].exact
    arity = len(inspect.signature(function).parameters)
    values = np.array([0.0, -0.0, 1e-300, -1e-300, 0.5, -0.5, 1.0, -1.0, 3.0, -3.0, 1e6, -1e6])
    with np.errstate(all="ignore"):
        results = function(*np.meshgrid(*[values] * arity))
    assert np.isfinite(results).all()


def test_srgb_is_decoded_as_in_iec_61966_2_1():
    # Decoded values from IEC 61966-2-1:1999, 5.2, worked out by its formula; 0.18 encodes to 0.4613561.
    assert float(exact.srgb_decode(np.array(128 / 255))) == pytest.approx(0.2158605, abs=1e-7)
    assert float(exact.srgb_decode(np.array(0.5))) == pytest.approx(0.2140411, abs=1e-7)
    assert float(exact.srgb_decode(np.array(0.4613561))) == pytest.approx(0.18, abs=1e-7)
    light = np.linspace(0, 1, 1001)
    # The standard's rounded threshold leaves a step of about 2e-8 between its two branches.
    np.testing.assert_allclose(exact.srgb_decode(srgb_encode(light)), light, atol=5e-8)


def test_srgb_agrees_with_colour_science():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from colour.models import eotf_sRGB
    encoded = np.linspace(0, 1, 256)
    np.testing.assert_allclose(exact.srgb_decode(encoded), eotf_sRGB(encoded), atol=1e-12)


# --- random numbers --------------------------------------------------------------------------------------------------


def _uniformity(values):
    """The p-value of a chi-square test of 64 equal bins (Pearson)."""
    from scipy import stats

    return stats.chisquare(np.bincount((values.ravel() * 64).astype(int), minlength=64)).pvalue


@pytest.mark.parametrize(
    "values",
    [
        exact.hash1(np.arange(100_000.0)),
        exact.hash1(np.arange(65_536) / 65_536),
        exact.hash1(-np.arange(100_000.0) / 7),
        exact.hash2(*np.meshgrid(np.arange(300.0), np.arange(300.0))),
        exact.hash2(np.arange(100_000.0), np.full(100_000, 3.0)),
        exact.hash3(*np.meshgrid(np.arange(40.0), np.arange(40.0), np.arange(40.0))),
    ],
    ids=["whole", "fractions", "negative", "plane", "row", "space"],
)
def test_a_hash_is_uniform(values):
    assert values.min() >= 0
    assert values.max() < 1
    assert 1e-4 < _uniformity(values) < 1 - 1e-4


def test_neighbouring_hashes_are_not_alike():
    """Serial correlation of independent numbers is within 4 / sqrt(n) of 0 (four standard deviations)."""
    count = 100_000
    for values in (
        exact.hash1(np.arange(float(count))),
        exact.hash2(np.arange(float(count)), np.array(7.0)),
        exact.hash2(np.array(7.0), np.arange(float(count))),
    ):
        assert abs(np.corrcoef(values[1:], values[:-1])[0, 1]) < 4 / np.sqrt(count)


def test_arguments_of_a_hash_are_not_interchangeable():
    x, y = np.meshgrid(np.arange(100.0), np.arange(100.0))
    pairs = exact.hash2(x, y)[x < y], exact.hash2(y, x)[x < y]
    assert abs(np.corrcoef(*pairs)[0, 1]) < 4 / np.sqrt(len(pairs[0]))


def test_noise_is_the_hash_at_whole_numbers_and_smooth_between():
    x = np.linspace(-5, 5, 10_001)
    values = exact.noise1(x)
    assert values.min() >= 0
    assert values.max() <= 1
    # The quintic fade is steepest in its middle, 15/8 (its derivative at 1/2), so no step exceeds that.
    assert np.abs(np.diff(values)).max() <= 15 / 8 * 0.001 + 1e-9
    # Flat at the lattice points.
    whole = np.arange(-5.0, 6.0)
    np.testing.assert_allclose(exact.noise1(whole + 1e-4), exact.noise1(whole - 1e-4), atol=1e-10)
    assert exact.noise1(whole).std() > 0.1


def test_noise_of_two_and_three_numbers_stays_in_range_and_continuous():
    line = np.linspace(-3, 3, 2001)
    for noise, rest in ((exact.noise2, (0.3,)), (exact.noise3, (0.3, -7.6))):
        others = [np.array(value) for value in rest]
        values = noise(line, *others)
        assert values.min() >= 0
        assert values.max() <= 1
        assert np.abs(np.diff(values)).max() <= 15 / 8 * 0.003 + 1e-9
        assert values.std() > 0.05


def test_a_table_is_read_between_its_entries_and_held_at_its_ends():
    row = np.array([0.0, 10.0, 40.0])
    places = np.array([-1.0, 0.0, 0.25, 0.5, 0.75, 1.0, 2.0])
    np.testing.assert_allclose(exact.table(places, row), [0, 0, 5, 10, 25, 40, 40])


def test_a_table_read_at_what_is_no_number_gives_its_first_entry():
    assert exact.table(np.array(np.nan), np.array([3.0, 4.0])) == 3.0
    assert exact.table(np.array([[np.nan]]), np.array([[3.0, 4.0], [5.0, 6.0]])).ravel().tolist() == [3.0, 5.0]
