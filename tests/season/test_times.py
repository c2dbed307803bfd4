"""Times of day in a setlist: by the clock, or from dusk or sunset on."""

from datetime import date

import pytest
from pydantic import ValidationError

from eavesong.errors import MisfitError
from eavesong.season.times import Evening, WallTime, beside, parse_moment


@pytest.mark.parametrize(
    ("text", "moment"),
    [
        ("17:30", WallTime("clock", 1050)),
        ("0:05", WallTime("clock", 5)),
        ("dusk", WallTime("dusk", 0)),
        ("sunset+20min", WallTime("sunset", 20)),
        ("dusk - 1 h", WallTime("dusk", -60)),
    ],
)
def test_times_of_day(text: str, moment: WallTime) -> None:
    assert parse_moment(text) == moment
    assert parse_moment(str(moment)) == moment


@pytest.mark.parametrize("text", ["25:00", "dawn", "dusk + 13 h", "sunset + 5", ""])
def test_what_is_no_time_of_day_is_refused(text: str) -> None:
    with pytest.raises(MisfitError, match="no time of day"):
        parse_moment(text)


@pytest.mark.parametrize("path", ["/etc/passwd", "../a.wav", "a/../../b.wav", "C:/a.wav", "..\\a.wav", "a\x1b.wav"])
def test_no_path_leads_out_of_the_folder_on_any_system(path: str) -> None:
    with pytest.raises(MisfitError, match="out of the setlist's folder"):
        beside(path)
    assert beside("songs/a.wav") == "songs/a.wav"


def test_dates_may_stand_in_quotes():
    evening = {"start": "17:00", "end": "21:00", "first_date": "2026-12-01", "last_date": date(2026, 12, 24)}
    assert Evening.model_validate(evening).first_date == date(2026, 12, 1)
    with pytest.raises(ValidationError, match="Write year, month and day, as 2026-12-01"):
        Evening.model_validate(evening | {"first_date": "1.12.2026"})


@pytest.mark.parametrize("days", ["friday", "Friday", "fri", ["Friday"], ["fri"]])
def test_a_day_may_be_written_in_full_or_stand_alone(days):
    assert Evening.model_validate({"start": "17:00", "end": "21:00", "days": days}).days == ("fri",)


@pytest.mark.parametrize(
    ("days", "meant"),
    [
        ("mon-fri", ("mon", "tue", "wed", "thu", "fri")),
        (["fri - sun"], ("fri", "sat", "sun")),
        ("Saturday to Monday", ("sat", "sun", "mon")),
        (["fri", "fri-sat"], ("fri", "sat")),
        ("fri, sun", ("fri", "sun")),
    ],
)
def test_days_may_be_written_as_a_range(days, meant):
    assert Evening.model_validate({"start": "17:00", "end": "21:00", "days": days}).days == meant


@pytest.mark.parametrize("days", ["weekend", ["fri", "fry"], ["mon-fri-sun"], [5], 5, [""]])
def test_what_is_no_day_is_told_which_words_are(days):
    with pytest.raises(ValidationError, match="Days are mon, tue, wed, thu, fri, sat, sun"):
        Evening.model_validate({"start": "17:00", "end": "21:00", "days": days})
