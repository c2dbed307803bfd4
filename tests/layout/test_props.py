"""Entries of a layout file: sizes as they may be written, and how they become wires."""

import pytest
from pydantic import TypeAdapter, ValidationError

from eavesong.errors import MisfitError
from eavesong.layout import props

ENTRY = TypeAdapter(props.AnyProp)
LINE = {"name": "a", "shape": "line", "to": [3.0, 4.0]}


def test_the_shape_says_which_entry_it_is():
    assert isinstance(ENTRY.validate_python(LINE | {"pixels": 5}), props.Line)
    assert isinstance(ENTRY.validate_python({"name": "a", "shape": "spot"}), props.Spot)


def test_a_count_and_a_pitch_that_mean_the_same_make_the_same_wire():
    """A line from the origin to (3, 4) is 5 long: ten pixels, or one every half."""
    counted, spaced = (ENTRY.validate_python(LINE | size).wire() for size in ({"pixels": 10}, {"pitch": 0.5}))
    assert counted.length == spaced.length == 5
    assert counted.points.tolist() == spaced.points.tolist()


@pytest.mark.parametrize("size", [{}, {"pixels": 5, "pitch": 1.0}])
def test_neither_and_both_are_refused(size):
    with pytest.raises((MisfitError, ValidationError), match="pixels"):
        ENTRY.validate_python(LINE | size)


def test_a_ring_without_a_height_is_a_circle():
    ring = {"name": "a", "shape": "ring", "width": 2.0, "pixels": 12}
    assert ENTRY.validate_python(ring).wire().length == ENTRY.validate_python(ring | {"height": 2.0}).wire().length


@pytest.mark.parametrize("value", [{"shape": "line"}, {"shape": "blob"}, {"pixels": "5"}, {"colour": "red"}])
def test_what_is_no_entry_is_refused(value):
    entry = {"name": "a", "pixels": 5, **({"to": [1.0, 0.0], "shape": "line"} if "shape" not in value else {}), **value}
    with pytest.raises(ValidationError):
        ENTRY.validate_python(entry)
