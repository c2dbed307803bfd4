"""Watching folders: a word for every file of the show that is saved, and none for others."""

import os
import threading

import pytest

from eavesong.watch.files import Watcher
from eavesong.watch.reading import Reader
from watched import SHOW, until


@pytest.fixture
def told(order):
    """Counts the words that a watcher of the show says, which begins to watch once it has said nothing for a while."""
    reader = Reader(order)
    reader.scene()
    words, heard = [], threading.Event()

    def saved():
        words.append(1)
        reader.scene()
        heard.set()

    watcher = Watcher(reader, saved)
    watcher.start()
    yield words
    watcher.end()


def _written(path, text):
    path.write_text(text)
    return path


WAYS = {
    "written": lambda path, text: path.write_text(text),
    "renamed over": lambda path, text: os.replace(_written(path.with_name("new"), text), path),
    "deleted and written": lambda path, text: (path.unlink(), path.write_text(text)),
}  # fmt: skip


@pytest.mark.parametrize("way", WAYS)
def test_every_way_of_saving_is_told(told, tmp_path, way):
    WAYS[way](tmp_path / "two.show.toml", SHOW + "# more\n")
    until(lambda: told)


@pytest.mark.parametrize("name", ["glow.toml", "house.toml", "song.beats", "song.sections", "song.wav"])
def test_every_file_that_a_show_stands_on_is_watched(told, tmp_path, name):
    path = tmp_path / name
    path.write_bytes(path.read_bytes() + b"\n")
    until(lambda: told)


def test_a_file_that_would_count_if_it_were_there_is_waited_for(told, tmp_path):
    (tmp_path / "song.events").write_text("0.5\thigh\t1.0\n")
    until(lambda: told)


def test_other_files_are_not_told_of(told, tmp_path):
    """The word that comes is for the show, which is saved after the others."""
    for name in ("notes.txt", "other.toml", "two.show.toml~"):
        (tmp_path / name).write_text("x")
    (tmp_path / "two.show.toml").write_text(SHOW + "# more\n")
    until(lambda: told)
    assert len(told) <= 2  # a save can be told twice: once when it begins, once when it is done


def test_it_can_be_ended_before_it_begins(order):
    watcher = Watcher(Reader(order), lambda: None)
    watcher.start()
    watcher.end()
    assert not watcher._thread.is_alive()
