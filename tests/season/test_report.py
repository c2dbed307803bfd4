"""The end of a batch: a table of 80 columns, and the same for programs."""

import json
from pathlib import Path

import pytest

from eavesong.season import Outcome
from eavesong.season.report import batch_dict, batch_text
from eavesong.season.run import Finished

LONG = "A name that is a good deal longer than the column it has to stand in"


@pytest.fixture
def finished() -> Finished:
    outcomes = (
        Outcome(0, "Frost", "frames/frost.h5", "rendered", "new", 4.0, 200.0, 8000, 12_000_000),
        Outcome(1, LONG, "frames/long.h5", "up to date", "as it was", 0.1, 100.0, 4000, 500),
        Outcome(2, "Bells", "frames/bells.h5", "failed", "bells.wav: is empty. " + "Write another. " * 9),
    )
    return Finished(Path("season.toml"), outcomes, 10.0, "2")


def test_the_table_fits_80_columns_and_tells_why_something_failed(finished: Finished) -> None:
    text = batch_text(finished)
    assert max(map(len, text.splitlines())) <= 80
    assert "Bells: bells.wav: is empty." in text
    assert f"{LONG[:31]}…" in text


def test_the_sum_counts_each_kind_and_the_speed_of_what_was_rendered(finished: Finished) -> None:
    """200 s of song in 10 s."""
    last = batch_text(finished).splitlines()[-1]
    assert last.startswith("1 failed, 1 rendered, 1 up to date in 0:10: 3:20 of song, 20 times real time")


def test_programs_are_told_the_same(finished: Finished) -> None:
    told = json.loads(json.dumps(batch_dict(finished)))
    assert told["all_well"] is False
    assert [song["status"] for song in told["songs"]] == ["rendered", "up to date", "failed"]


def test_one_reason_is_told_once_and_what_was_forgotten_at_the_end() -> None:
    reason = "bells.wav: there is no such file"
    notes = ("perhaps forgotten: those in 'hut' are softened",)
    outcomes = (
        *(Outcome(number, f"Bells, house {number}", "b.h5", "failed", reason) for number in range(8)),
        Outcome(8, "Frost", "f.h5", "rendered", "new", notes=notes),
    )
    text = batch_text(Finished(Path("season.toml"), outcomes, 10.0, "2"))
    assert text.count(reason) == 1
    assert f"Bells, house 0 and 7 more: {reason}" in text
    assert f"Frost: {notes[0]}." in text.splitlines()
