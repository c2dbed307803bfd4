"""Values of layout files: units, and what is no value at all."""

import pytest
from pydantic import TypeAdapter, ValidationError

from eavesong.errors import MisfitError
from eavesong.layout.fields import ORDERS, FileBeside, Length, Name, Place, Tag


def test_orders_are_all_that_three_and_four_colours_have_with_white_first_or_last():
    """Six orders of three; white first or last gives twelve more."""
    assert len(set(ORDERS)) == len(ORDERS) == 18
    assert {"".join(sorted(order)) for order in ORDERS} == {"BGR", "BGRW"}


def test_two_coordinates_stand_for_three():
    assert TypeAdapter(Place).validate_python([1.0, 2.0]) == (1.0, 2.0, 0.0)


@pytest.mark.parametrize(
    ("kind", "value"),
    [
        (Length, 0.0), (Length, float("inf")), (Place, [1.0]), (Name, " eaves"), (Name, "a\tb"), (Tag, "Roof"),
        (Tag, "two words"), (FileBeside, "../x.csv"), (FileBeside, "/x.csv"), (FileBeside, "C:\\x.csv"),
    ],
)  # fmt: skip
def test_what_is_no_value_is_refused(kind, value):
    with pytest.raises((ValidationError, MisfitError)):
        TypeAdapter(kind).validate_python(value)


@pytest.mark.parametrize("path", ["points.csv", "survey/points.csv", "a..b.csv"])
def test_files_beside_and_below_are_kept_as_written(path):
    assert TypeAdapter(FileBeside).validate_python(path) == path


@pytest.mark.parametrize("value", [2.5, [2.5]])
def test_one_number_is_no_place(value):
    with pytest.raises(ValidationError, match=r"Write \[x, y\], as \[2.5, 0\]"):
        TypeAdapter(Place).validate_python(value)
