"""Parcels: all that a task needs, laid out again where nothing else is."""

from dataclasses import replace
from pathlib import Path

import pytest

from eavesong.scene import Order
from eavesong.season import Task
from eavesong.season.parcel import packed, unpacked
from eavesong.show import load_show


@pytest.fixture
def task(season) -> Task:
    folder = season(1).folder
    order = Order(str(folder / "two.show.toml"), str(folder / "hut.toml"), str(folder / "song-0.wav"))
    return Task(0, "Song", order, str(folder / "frames" / "song-0.h5"))


def test_every_file_arrives_as_it_was(task: Task, tmp_path: Path) -> None:
    inside = unpacked(packed(task, load_show(task.show)), tmp_path / "far")
    for there, here in ((inside.song, task.song), (inside.show, task.show), (inside.layout, task.layout)):
        assert Path(there).read_bytes() == Path(here).read_bytes()
        assert Path(there).is_relative_to(tmp_path / "far")
    for text in (".beats", ".sections"):
        assert Path(inside.song).with_suffix(text).is_file()
    assert Path(inside.out).parent.is_dir()


def test_what_is_asked_for_travels_with_it(task: Task, tmp_path: Path) -> None:
    softened = replace(task, order=replace(task.order, soften=True))
    assert unpacked(packed(softened, load_show(task.show)), tmp_path / "far").order.terms == softened.order.terms


def test_places_are_below_a_common_folder_and_name_nothing_else(task: Task) -> None:
    names = packed(task, load_show(task.show)).files
    assert not any(Path(name).is_absolute() or ".." in Path(name).parts for name in names)
