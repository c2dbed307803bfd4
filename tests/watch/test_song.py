"""The song's sound, by its hash."""

import hashlib

from eavesong.watch.song import SongShelf
from lamps import write_click


def test_only_the_song_that_is_shown_is_given(tmp_path):
    song = write_click(tmp_path / "a.wav", [])
    digest = hashlib.sha256(song.read_bytes()).hexdigest()
    shelf = SongShelf()
    assert shelf.get("a.wav", digest, song) is None
    assert shelf.get(digest, "0" * 64, song) is None
    assert shelf.get(digest, digest, song) == (song.read_bytes(), "audio/wav")
    data = song.read_bytes()
    song.unlink()
    assert shelf.get(digest, digest, song)[0] == data  # it plays on, though the file is gone


def test_a_file_that_has_changed_meanwhile_is_not_taken_for_the_song(tmp_path):
    song = write_click(tmp_path / "a.wav", [])
    digest = hashlib.sha256(song.read_bytes()).hexdigest()
    write_click(song, [1.0])
    assert SongShelf().get(digest, digest, song) is None
