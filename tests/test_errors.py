"""Errors carry what was found and what to write instead as values, whatever stands in them."""

import pickle
from typing import Annotated

import pytest
from pydantic import AfterValidator, BaseModel

from eavesong.errors import BeatsError, EavesongError, LayoutError, MisfitError, OutputError, Problem, advise, nearest
from eavesong.files import read_model


def test_a_problem_says_file_place_and_what_to_write() -> None:
    problem = Problem("street.show.toml", "line 4, cue 1", "no effect is called 'swep'", "Did you mean 'sweep'?")
    assert str(problem) == "street.show.toml, line 4, cue 1: no effect is called 'swep'\n    Did you mean 'sweep'?"
    assert str(Problem("street.show.toml", "", "is not a file")) == "street.show.toml: is not a file"


def test_an_error_lists_all_problems() -> None:
    problems = [Problem("a.toml", "", "is empty"), Problem("b.toml", "", "is a folder")]
    assert LayoutError(problems).problems == tuple(problems)
    assert str(LayoutError(problems)) == "a.toml: is empty\nb.toml: is a folder"
    assert (EavesongError(problems).exit_code, OutputError(problems[0]).exit_code) == (3, 4)


def test_of_many_problems_the_first_twenty_are_told_and_how_many_more() -> None:
    problems = [Problem("song.beats", f"line {line}", "is no beat", "Write a time.") for line in range(1, 500_001)]
    lines = str(BeatsError(problems)).splitlines()
    assert lines[38:] == ["song.beats, line 20: is no beat", "    Write a time.", "… and 499,980 more."]
    rest = Problem("song.beats", "", "9 more problems follow", count=9)
    assert str(BeatsError([*problems[:20], rest])).endswith("\n… and 9 more.")
    assert pickle.loads(pickle.dumps(BeatsError([*problems[:2], rest]))).count == 11


def test_what_a_problem_quotes_is_bounded_and_commands_no_terminal() -> None:
    problem = Problem("\x1b[2J.toml", "line 4", "'\x9b2J\x07' is no word", "Write\none.")
    assert str(problem) == "\\x1b[2J.toml, line 4: '\\x9b2J\\x07' is no word\n    Write\none."
    assert len(str(Problem("a.toml", "", "x" * 10**6))) < 3000


@pytest.mark.parametrize("found", ["'a | b' is no word", "'a. b' is no word", "'Value error, x' is no word"])
def test_what_a_misfit_holds_reaches_the_problem_unchanged(found: str) -> None:
    def refuse(value: str) -> str:
        raise MisfitError(found, "Write 'c | d'.")

    class Table(BaseModel):
        word: Annotated[str, AfterValidator(refuse)]

    with pytest.raises(LayoutError) as raised:
        read_model(Table, 'word = "x"', "house.toml", LayoutError)
    assert raised.value.problems == (Problem("house.toml", "line 1, word", f"{found} (found 'x')", "Write 'c | d'."),)


def test_a_misfit_reads_as_sentences_and_goes_between_processes() -> None:
    misfit = pickle.loads(pickle.dumps(MisfitError("'x' is not a hue", "Write degrees, like 210.")))
    assert (misfit.found, misfit.instead) == ("'x' is not a hue", "Write degrees, like 210.")
    assert str(misfit) == "'x' is not a hue. Write degrees, like 210."
    assert str(MisfitError("'x' is not a hue")) == "'x' is not a hue"


def test_advice_is_the_nearest_name_or_all_of_them() -> None:
    names = ["Sweep", "runners", "pond"]
    assert nearest("swep", names) == "Sweep"
    assert nearest("quartz", names) == ""
    assert advise("swep", names, "effect") == "Did you mean 'Sweep'?"
    assert advise("quartz", names, "effect") == "Known effects: Sweep, pond, runners."
    assert advise("quartz", ("tree", "arch", "tree"), "prop") == "Known props: arch, tree."  # a name and a tag
    assert advise("quartz", (), "effect") == "There is no effect to choose from."


def test_of_names_equally_near_the_one_that_begins_alike_is_meant() -> None:
    assert nearest("unit", ["unlit", "units", "title"]) == "units"
    assert nearest("windows", ["window", "widows"]) == "window"


@pytest.mark.parametrize(
    ("slip", "meant"), [("paht", "path"), ("acrh", "arch"), ("tere", "tree"), ("bgi", "big"), ("oak", ""), ("ra", "")]
)
def test_letters_that_changed_places_are_found_in_short_words_too(slip: str, meant: str) -> None:
    assert nearest(slip, ["path", "arch", "tree", "big", "ar", "kao"], 0.9) == meant


def test_colours_are_called_a_palette_where_one_is_known():
    assert advise("colour", ["name", "palette"]) == "Colours are a 'palette'."
    assert "palette" not in advise("colour", ["name", "columns"])
