"""What is advised where a value does not fit: read from what stands in the file."""

from typing import Annotated, Any

import pytest
from pydantic import Field, Strict

from eavesong.entries import Entry
from eavesong.errors import ShowError
from eavesong.files import read_model
from eavesong.meant import list_meant, meant


class Arrow(Entry):
    to: Annotated[tuple[float, float, float], Strict(False)]
    names: Annotated[tuple[str, ...], Strict(False), Field(max_length=2)] = ()
    depth: Annotated[float, Field(ge=0, le=0.5)] = 0.0


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("to = [11, 3.6]",
         "3 values belong here, and there are only 2 of them\n    Write all 3, for instance [11, 3.6, 4.6]."),
        ("to = [11]", "3 values belong here, and there is only 1 of them\n    Write all 3, for instance [11, 12, 13]."),
        ("to = []", "3 values belong here, and there is none\n    Write all 3, for instance [0, 1, 2]."),
        ("to = [0.2]", "3 values belong here, and there is only 1 of them\n    Write all 3, for instance [0.2, 1, 2]."),
        ("too = [1, 2, 3]", "'too' is not a key here\n    Did you mean 'to'?"),
        ("to = [1, 2, 3, 4]", "array should have at most 3 items, not 4\n    Write [1, 2, 3]."),
        ("to = '11, 3.6, 2'",
         "must be an array, not '11, 3.6, 2'\n    Write numbers in brackets, without quotes: [11, 3.6, 2]."),
        ("to = [1, 2, 3]\nnames = 'arch'", "must be an array, not 'arch'\n    Write it in brackets: [\"arch\"]."),
        ("to = [1, 2, 3]\ndepth = 20", "must be at most 0.5, not 20\n    Write 0.2 for 20 %."),
        ("to = [1, 2, 3]\ndepth = 80", "must be at most 0.5, not 80"),
    ],
)  # fmt: skip
def test_a_list_that_does_not_fit_is_told_with_one_that_does(text: str, told: str) -> None:
    with pytest.raises(ShowError) as caught:
        read_model(Arrow, text, "t", ShowError)
    (problem,) = caught.value.problems
    assert str(problem).endswith(f": {told}")


@pytest.mark.parametrize(
    ("given", "advice"),
    [
        ("arch, tree", 'Write it in brackets: ["arch", "tree"].'),
        ("arch and tree", 'Write it in brackets: ["arch", "tree"].'),
        (5, "Write it in brackets: [5]."),
        ("", ""),
        (True, ""),
        ({"a": 1}, ""),
    ],
)
def test_a_list_is_advised_of_what_stands_in_its_place(given: Any, advice: str) -> None:
    assert list_meant(given) == advice


def test_nothing_is_advised_where_nothing_is_plain() -> None:
    assert meant("string_type", 5, {}) == meant("less_than_equal", 1.5, {"le": 1.0}) == ""
