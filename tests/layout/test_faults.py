"""Faults of a layout file: gathered, told once each, and not without end."""

import pytest

from eavesong.errors import LayoutError, MisfitError
from eavesong.layout.faults import Faults
from eavesong.misfits import MOST_TOLD

TEXT = "title = 'House'\n[[prop]]\nname = 'eaves'\n[[prop]]\nname = 'eaves'\n"


def test_nothing_found_stops_nothing():
    Faults("house.toml", TEXT).stop_if_any()


def test_all_that_was_found_is_raised_at_once_each_with_its_line():
    faults = Faults("house.toml", TEXT)
    faults.add(("prop", 1, "name"), "two props are called 'eaves'", "Rename one.")
    faults.add_error(("title",), MisfitError("this is no title", "Write another."))
    with pytest.raises(LayoutError) as caught:
        faults.stop_if_any()
    found = [(problem.file, problem.place.split(",")[0], problem.found) for problem in caught.value.problems]
    assert found == [
        ("house.toml", "line 5", "two props are called 'eaves'"),
        ("house.toml", "line 1", "this is no title"),
    ]


def test_the_same_fault_is_told_once():
    faults = Faults("house.toml", TEXT)
    for _ in range(3):
        faults.add(("title",), "this is no title")
    assert len(faults.problems) == 1


def test_a_file_full_of_faults_ends_with_a_word_that_there_are_more():
    faults = Faults("house.toml", TEXT)
    for number in range(MOST_TOLD + 10):
        faults.add(("title",), f"fault {number}")
    with pytest.raises(LayoutError) as caught:
        faults.stop_if_any()
    assert len(caught.value.problems) == MOST_TOLD + 1
    assert caught.value.problems[-1].found == "10 more problems follow"
