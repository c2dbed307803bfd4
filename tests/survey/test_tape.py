"""Lengths as people write them. 1 ft = 0.3048 m and 1 in = 25.4 mm exactly (international yard and pound, 1959)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eavesong.survey.tape import Size, read_size


@pytest.mark.parametrize(
    ("written", "metres"),
    [
        (2.4, 2.4),
        (3, 3.0),
        ("2.4 m", 2.4),
        ("240cm", 2.4),
        ("1830 mm", 1.83),
        ("7 ft", 2.1336),
        ("66 in", 1.6764),
        ("5 ft 6 in", 1.6764),
        ("5ft 6in", 1.6764),
        ("5' 6\"", 1.6764),
        ("5′ 6½″".replace("½", " 1/2"), 1.6891),
        ("5 ft 6 1/2 in", 1.6891),
        ("1/2 in", 0.0127),
        ("-2 ft", -0.6096),
        ("-2 ft 6 in", -0.762),
    ],
)
def test_what_a_tape_reads(written, metres):
    assert read_size(written).metres("m") == pytest.approx(metres, abs=1e-12)


def test_a_number_alone_is_in_the_files_units():
    assert read_size(10).metres("ft") == pytest.approx(3.048)
    assert read_size("10 cm").metres("ft") == pytest.approx(0.1)


@pytest.mark.parametrize(
    "written", ["", "long", "2,4 m", "2.4", "5 foot", "6 in 5 ft", "1/0 in", "1e400", True, None, [1]]
)
def test_what_is_no_length(written):
    with pytest.raises(ValueError, match="no length"):
        read_size(written)


@given(st.integers(0, 300), st.integers(0, 11))
def test_feet_and_inches_add_up(feet, inches):
    assert read_size(f"{feet} ft {inches} in") == Size(12 * feet + inches, "in")
