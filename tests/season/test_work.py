"""What a worker does with one song, whatever it is given."""

from pathlib import Path

import pytest

from eavesong.errors import Problem, ShowError
from eavesong.scene import Order
from eavesong.season import Task
from eavesong.season.work import failed, reason_of, work


def test_a_reason_is_one_line_with_its_place_and_how_many_more() -> None:
    problems = [Problem("/a/b/x.show.toml", "line 3", "nothing is called 'k'", "Write 'kick'."), Problem("y", "", "z")]
    assert reason_of(ShowError(problems)) == (
        "x.show.toml, line 3: nothing is called 'k'. Write 'kick'. (and 1 more problems)"
    )


@pytest.mark.parametrize("broken", ["two.show.toml", "hut.toml", "song-0.wav"])
def test_a_fault_of_its_files_is_an_outcome_and_leaves_nothing(season, broken: str) -> None:
    made = season(1)
    (made.folder / broken).write_text("= nothing of the kind")
    (made.folder / "frames").mkdir()
    files = [str(made.folder / name) for name in ("two.show.toml", "hut.toml", "song-0.wav")]
    out = made.folder / "frames" / "song-0.h5"
    outcome = work(Task(0, "Song", Order(*files), str(out)), lambda stage, done, total: None)
    assert outcome.status == "failed"
    assert broken in outcome.reason
    assert not outcome.trace
    assert not out.exists()


def test_what_failed_keeps_its_number_and_how_often_it_was_tried() -> None:
    task = Task(7, "Song", Order("", "", ""), str(Path("a.h5")))
    assert (failed(task, "no", 3).number, failed(task, "no", 3).attempts) == (7, 3)
