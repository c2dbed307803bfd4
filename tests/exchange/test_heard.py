"""What a pack hears of its song, and which texts go along."""

import shutil

import pytest

from eavesong.exchange.heard import heard_for
from eavesong.music.made_for import made_for_line
from eavesong.music.sound import sound_hash
from eavesong.music.texts import read_sections
from eavesong.show import load_show


@pytest.fixture
def exchanged(packed, tmp_path):
    """The song as it was, under another name; in its place another file; and texts of sections and events beside it."""
    folder, song = packed
    old, new = tmp_path / "as it was.wav", tmp_path / song.path.name
    shutil.copy(song.path, old)
    new.write_bytes(song.path.read_bytes()[:-4000])
    for name in ("a.show.toml", "own.toml"):
        shutil.copy(folder / name, tmp_path)
    return load_show(tmp_path / "a.show.toml"), old, new


def test_texts_for_the_very_sound_go_along_wherever_they_lie(exchanged):
    show, old, new = exchanged
    line = made_for_line(sound_hash(old))
    new.with_suffix(".sections").write_text(f"{line}0.0\t8.0\tmine\n8.0\t20.0\tyours\n")
    new.with_suffix(".events").write_text(f"{line}3.0\thit\t1\n")
    heard = heard_for(show, old)
    assert [part.label for part in heard.timed.grid.sections] == ["mine", "yours"]
    assert [each.time for each in heard.events.labelled("hit")] == [3.0]
    assert (heard.written, heard.left) == (True, ())


@pytest.mark.parametrize("line", ["", made_for_line("0" * 64)])
def test_other_texts_do_not_and_are_told(exchanged, line):
    show, old, new = exchanged
    text = new.with_suffix(".sections")
    text.write_text(f"{line}0.0\t8.0\tmine\n")
    heard = heard_for(show, old)
    assert "mine" not in [part.label for part in heard.timed.grid.sections]
    assert heard.left == (text,)
    shutil.copy(text, old.with_suffix(".sections"))
    assert heard_for(show, old).left == ()
    assert heard_for(show, old).timed.grid.sections[0].label == read_sections(text)[0].label
