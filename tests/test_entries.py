"""Tables of files: nothing unknown in them, nothing taken for something else, nothing changed later."""

import pytest
from pydantic import ValidationError

from eavesong.entries import Entry


class Shelf(Entry):
    boards: int
    """How many."""
    width: float = 1.0


def test_an_unknown_key_is_refused() -> None:
    with pytest.raises(ValidationError, match="extra_forbidden"):
        Shelf.model_validate({"boards": 3, "colour": "red"})


@pytest.mark.parametrize("boards", ["3", 3.0, True])
def test_nothing_is_turned_into_a_whole_number(boards: object) -> None:
    with pytest.raises(ValidationError):
        Shelf.model_validate({"boards": boards})


def test_entries_are_equal_by_value_and_stay_as_they_are() -> None:
    shelf = Shelf(boards=3)
    assert shelf == Shelf(boards=3, width=1.0)
    assert hash(shelf) == hash(Shelf(boards=3))
    with pytest.raises(ValidationError, match="frozen"):
        shelf.boards = 4


def test_what_stands_below_a_key_describes_it() -> None:
    assert Shelf.model_json_schema()["properties"]["boards"]["description"] == "How many."
