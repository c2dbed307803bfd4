"""A frames file reopened says what it was made from, and where its song and photo are."""

import shutil
from pathlib import Path

import numpy as np
import pytest

from eavesong.frames import open_frames
from eavesong.render import Order, render
from eavesong.scene import Reopened, Terms, make_scene
from eavesong.scene.reopen import kept_from
from street import Street

OLD = Path(__file__).parents[1] / "frames" / "data"


@pytest.fixture
def street(tmp_path):
    (tmp_path / "home").mkdir()
    return Street(tmp_path / "home")


def test_the_scene_is_the_one_that_was_rendered(street):
    made = make_scene(Order.of(street.show, street.old))
    with open_frames(street.frames) as file:
        again = Reopened(file).scene
        assert again is not None
        assert again.grid == made.grid
        assert [cue.spans for cue in again.cues] == [cue.spans for cue in made.cues]
        for one, other in zip(again.cues, made.cues, strict=True):
            np.testing.assert_array_equal(one.weight, other.weight)


def test_wishes_of_the_house_are_kept(street):
    above = 'unlit = "tree"\nwatched_from = 7\n'
    wished = street.layout("wished.toml", f'{above}{street.old.read_text()}\n[palettes]\nall = "gold"\n')
    out = street.folder / "wished.h5"
    render(Order.of(street.show, wished), out)
    made = make_scene(Order.of(street.show, wished))
    with open_frames(out) as file:
        again = Reopened(file)
        assert [prop.name for prop in again.layout.props if not prop.lit] == ["fir"]
        assert again.layout.watched_from == 7  # whoever looks for flashes in frames alone stands as near
        assert [cue.palette for cue in again.cues] == [cue.palette for cue in made.cues]
        assert not again.light(0, 80)[:, -40:].any()  # the fir's four strings of ten


def test_the_order_is_told_from_the_frames_own_folder(street):
    out = street.folder / "frames" / "old.h5"
    out.parent.mkdir()
    render(Order.of(street.show, street.old, limit=("house:30W",), stop=1.0), out)
    with open_frames(out) as file:
        reopened = Reopened(file)
        assert reopened.order == Order("../test.show.toml", "../old.toml", limit=("house:30W",), stop=1.0)
        assert "brightness * light ** gamma" in file.law


def test_what_was_changed_since_is_told(street):
    out = street.folder / "frames" / "old.h5"
    out.parent.mkdir()
    render(Order.of(street.show, street.old, stop=1.0), out)

    def outdated():
        with open_frames(out) as file:
            return Reopened(file).outdated

    assert outdated() == ()
    street.show.write_text(street.show.read_text() + "# brighter\n")
    assert outdated() == ("../test.show.toml",)
    street.old.write_text(street.old.read_text() + "# wider\n")
    assert outdated() == ("../test.show.toml", "../old.toml")
    street.show.unlink()
    assert outdated() == ("../old.toml",)


def test_song_and_photo_are_found_where_they_were(street):
    """Frames of a batch lie in a folder of their own: the song is known by its hash, wherever the file says it lies."""
    house = street.layout("photo.toml", 'photo = "house.png"\n' + street.old.read_text())
    (street.folder / "house.png").write_bytes(b"\x89PNG a picture")
    out = street.folder / "frames" / "old.h5"
    out.parent.mkdir()
    render(Order.of(street.show, house), out)
    with open_frames(out) as file:
        assert Reopened(file).song == out.parent / "../song.wav"
        assert Reopened(file).photo == out.parent / "../house.png"
        (street.folder / "song.wav").write_bytes(b"another song altogether")
        assert Reopened(file).song is None
        shutil.copy(street.folder / "house.png", out.parent)
        assert Reopened(file).photo == out.parent / "house.png"


def test_files_of_the_first_eavesong_are_read(street):
    with open_frames(OLD / "first-plain.h5") as file:
        file.verify()
        reopened = Reopened(file)
        assert not reopened.told
        assert reopened.terms == Terms()
        assert reopened.grid is not None
        assert len(reopened.cues) == 3
        with open_frames(street.frames) as now:
            assert (file.patch, file.props, file.frame_count) == (now.patch, now.props, now.frame_count)
    with open_frames(OLD / "first-dimmed.h5") as file:
        assert Reopened(file).terms == Terms(frame_rate=20.0, start=0.0, stop=1.0)


def test_what_is_no_frames_file_has_the_usual_terms(tmp_path):
    assert kept_from(tmp_path / "none.h5", Terms()) == (Terms(), ())
    (tmp_path / "text.h5").write_text("no frames")
    terms, notes = kept_from(tmp_path / "text.h5", Terms(frame_rate=25.0))
    assert terms == Terms(frame_rate=25.0)
    assert notes[0].startswith("not kept: a limit or a softening that earlier frames may have had")


def test_frames_that_do_not_say_what_was_asked_for_are_told():
    terms, (note,) = kept_from(OLD / "first-dimmed.h5", Terms())
    assert terms == Terms()
    assert "an older eavesong" in note
