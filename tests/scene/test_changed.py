"""Which files frames were made from are others by now."""

from pathlib import Path

import pytest

from eavesong.frames import open_frames
from eavesong.render import Order, render
from eavesong.scene.changed import changed_files
from eavesong.scene.reopen import Reopened
from street import Street

MINE = 'title = "Mine"\nabout = "All on."\ncode = """\nlevel = 1\ncolour = linear_rgb(1, 1, 1)\n"""\n'


@pytest.fixture
def street(tmp_path: Path) -> Street:
    (tmp_path / "home").mkdir()
    made = Street(tmp_path / "home")
    (made.folder / "mine.toml").write_text(MINE)
    made.show.write_text(made.show.read_text() + '[[cue]]\neffect = "mine.toml"\n')
    return made


def frames_of(street: Street, **asked: object) -> Path:
    out = street.folder / "frames" / "old.h5"
    out.parent.mkdir()
    render(Order.of(street.show, street.old, stop=0.5, **asked), out)
    return out


def changed(out: Path) -> tuple[str, ...]:
    with open_frames(out) as file:
        return changed_files(file, Reopened(file).order)


def test_a_show_its_own_effects_and_the_layout(street: Street) -> None:
    out = frames_of(street)
    assert changed(out) == ()
    (street.folder / "mine.toml").write_text(MINE.replace("level = 1", "level = 0.5"))
    assert changed(out) == ("../mine.toml",)
    street.show.write_text(street.show.read_text() + "# brighter\n")
    assert changed(out) == ("../test.show.toml", "../mine.toml")
    street.old.write_text(street.old.read_text() + "# wider\n")
    assert changed(out) == ("../test.show.toml", "../mine.toml", "../old.toml")
    for gone in (street.show, street.folder / "mine.toml", street.old):
        gone.unlink()  # as on a computer that has nothing but frames
    assert changed(out) == ()


@pytest.mark.parametrize("part", ["beats", "sections", "events"])
def test_texts_beside_the_song(street: Street, part: str) -> None:
    out = frames_of(street, song=street.folder / "song.wav")
    assert changed(out) == ()
    text = street.folder / f"song.{part}"
    text.write_text((text.read_text() if text.is_file() else "") + "# looked at\n")
    assert changed(out) == (f"../song.{part}",)


def test_a_text_that_the_show_names_counts_in_place_of_the_one_beside_the_song(street: Street) -> None:
    beats = street.folder / "song.beats"
    (street.folder / "by-ear.beats").write_text(beats.read_text())
    street.show.write_text('beats = "by-ear.beats"\n' + street.show.read_text())
    out = frames_of(street)
    beats.write_text(beats.read_text() + "# looked at\n")
    assert changed(out) == ()
    (street.folder / "by-ear.beats").write_text(beats.read_text())
    assert changed(out) == ("../by-ear.beats",)


def test_frames_that_do_not_tell_what_was_asked_for_tell_nothing(street: Street) -> None:
    with open_frames(frames_of(street)) as file:
        assert changed_files(file, None) == ()
