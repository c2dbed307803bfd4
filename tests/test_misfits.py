"""What a model finds wrong with a file: all of it at once, each with its place."""

from typing import Literal, Self

import pytest
from pydantic import BaseModel, ConfigDict, Field, model_validator

from eavesong.errors import MisfitError, ShowError
from eavesong.files import read_model
from eavesong.misfits import MOST_TOLD


class Cue(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True)
    name: str = Field(min_length=1)
    blend: Literal["screen", "multiply"] = "screen"
    opacity: float = Field(default=1, ge=0, le=1)


class Show(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True)
    cue: list[Cue] = Field(min_length=1)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("[[cue]]\nname = 'a'\nopacty = 1", "t, line 3, cue 1, opacty: 'opacty' is not a key here\n"
                                            "    Did you mean 'opacity'?"),
        ("[[cue]]\n[[cue]]\nname = 'b'", "t, line 1, cue 1: 'name' is missing\n    Add a line 'name = …'."),
        ("[[cue]]\nname = 'a'\nopacity = 2", "t, line 3, cue 1, opacity: must be at most 1, not 2"),
        ("[[cue]]\nname = 'a'\nopacity = 80", "t, line 3, cue 1, opacity: must be at most 1, not 80\n"
                                              "    Write 0.8 for 80 %."),
        ("cue = 'a'", "t, line 1, cue: must be an array, not 'a'\n    Write it in brackets: [\"a\"]."),
        ("[[cue]]\nname = 'a'\nopacity = true", "t, line 3, cue 1, opacity: must be a number, not true"),
        ("[[cue]]\nname = 'a'\nblend = 'scren'", "t, line 3, cue 1, blend: 'scren' is not one of the choices\n"
                                                 "    Did you mean 'screen'?"),
        ("[[cue]]\nname = 'a'\nblend = 7", "t, line 3, cue 1, blend: 7 is not one of the choices\n"
                                           "    Write one of 'screen' or 'multiply'."),
        ("[[cue]]\nname = 3", "t, line 2, cue 1, name: must be text in quotes, not 3"),
        ("cue = []", "t, line 1, cue: array should have at least 1 item, not 0"),
        ("cue = [4]", "t, line 1, cue 1: must be a table, not 4"),
        ("[[cue]]\nname = 0x" + "f" * 9000, "t, line 2, cue 1, name: must be text in quotes, "
                                            "not a number of more than 60 digits"),
    ],
)  # fmt: skip
def test_misfits_are_told_in_plain_words(text, told):
    with pytest.raises(ShowError) as caught:
        read_model(Show, text, "t", ShowError)
    assert str(caught.value) == told


def test_all_misfits_are_told_in_the_order_of_the_file():
    with pytest.raises(ShowError) as caught:
        read_model(Show, "[[cue]]\nopacity = 3\n[[cue]]\nname = 1\nblend = 'x'", "t", ShowError)
    assert [problem.place.split(",")[0] for problem in caught.value.problems] == [
        "line 1",
        "line 2",
        "line 4",
        "line 5",
    ]


def test_a_thousand_misfits_are_not_told_one_by_one():
    with pytest.raises(ShowError) as caught:
        read_model(Show, "[[cue]]\n" * 1000, "t", ShowError)
    assert len(caught.value.problems) == MOST_TOLD + 1
    assert caught.value.count == 1000
    assert str(caught.value).endswith("\n… and 980 more.")


def test_values_that_do_not_fit_beyond_number_are_counted():
    with pytest.raises(ShowError, match=r"^t: 60,000 values do not fit\n    Name the right file\.$"):
        read_model(Show, "cue = [" + "1," * 60_000 + "]", "t", ShowError)


class Stay(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True)
    name: str = ""
    nights: int = 1
    days: int = 2

    @model_validator(mode="after")
    def _in_proportion(self) -> Self:
        if self.days > self.nights + 1:
            raise MisfitError(f"{self.days} days have more than {self.nights} nights", "Write more 'nights'.")
        return self


class Journey(BaseModel):
    stay: Stay = Stay()
    stays: list[Stay] = []

    @model_validator(mode="after")
    def _not_both(self) -> Self:
        if self.stays and self.stay.days:
            raise MisfitError("there is one 'stay', and there are 'stays'", "Keep one.")
        return self


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("[stay]\nname = 3\ndays = 5", ["line 1, stay", "line 2, stay, name"]),
        ("[stay]\ndays = 5\nnight = 3", ["line 3, stay, night"]),  # may be all that is wrong
        ("[stay]\ndays = 5\nnights = 'x'", ["line 3, stay, nights"]),
        ("[stay]\nname = 3\n[[stays]]\nname = 4\ndays = 4",
         ["line 2, stay, name", "line 3, stays 1", "line 4, stays 1, name"]),
        ("[stay]\nname = 3\n[[stays]]\nname = 4", ["", "line 2, stay, name", "line 4, stays 1, name"]),
    ],
)  # fmt: skip
def test_tables_are_looked_at_though_a_key_of_theirs_does_not_fit(text, told):
    with pytest.raises(ShowError) as caught:
        read_model(Journey, text, "t", ShowError)
    assert sorted(problem.place for problem in caught.value.problems) == told
