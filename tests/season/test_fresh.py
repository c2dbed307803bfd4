"""Whether frames are up to date: by content, never by time."""

import os
from dataclasses import replace
from pathlib import Path

import pytest

from eavesong.layout import load_layout
from eavesong.scene import Order
from eavesong.season import Task
from eavesong.season.fresh import FORCED, NEW, stored_share, why_due
from eavesong.season.work import work
from eavesong.show import load_show


def due(task: Task) -> str:
    return why_due(task, load_show(task.show), load_layout(task.layout))


@pytest.fixture
def done(season) -> Task:
    """A task whose frames are there."""
    folder = season(1, seconds=1.0).folder
    (folder / "frames").mkdir()
    order = Order(str(folder / "two.show.toml"), str(folder / "hut.toml"), str(folder / "song-0.wav"))
    task = Task(0, "Song", order, str(folder / "frames" / "song-0.h5"))
    assert due(task) == NEW
    assert work(task, lambda stage, at, total: None).status == "rendered"
    return task


def test_the_time_of_a_file_says_nothing_and_its_content_everything(done: Task) -> None:
    for path in (done.show, done.layout, done.song):
        os.utime(path, (0, 0))
    assert due(done) == ""
    assert due(replace(done, again=True)) == FORCED
    assert 0 < (stored_share(done) or 0) < 1.1
    assert due(replace(done, order=replace(done.order, soften=True))).startswith("asked for: ")
    for path, told in ((done.show, "the show changed"), (done.layout, "the layout changed")):
        text = Path(path).read_text()
        Path(path).write_text(text + "\n# a word\n")
        assert due(done) == told
        Path(path).write_text(text)
    beats = Path(done.song).with_suffix(".beats")
    beats.write_text(beats.read_text() + "1.0\t1\n")
    assert due(done) == "the beats changed"


def test_frames_that_cannot_be_read_are_made_anew(done: Task) -> None:
    Path(done.out).write_bytes(b"")
    assert due(done) == "its frames file is empty"
    assert stored_share(done) is None
