"""Everything is checked before anything is rendered."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from eavesong.errors import EavesongError, LayoutError, ShowError
from eavesong.season import plan_batch

Make = Callable[..., "Season"]  # noqa: F821

pytestmark = pytest.mark.usefixtures("in_process")


def refused(path: Path, error: type[EavesongError] = ShowError) -> str:
    with pytest.raises(error) as caught:
        plan_batch(path)
    return str(caught.value)


def test_a_plan_names_every_song_once(season: Make) -> None:
    made = season(3)
    plan = plan_batch(made.setlist)
    assert [task.name for task in plan.tasks] == ["song-0", "song-1", "song-2"]
    assert [task.number for task in plan.tasks] == [0, 1, 2]
    assert [Path(task.out) for task in plan.tasks] == [made.folder / "frames" / f"song-{n}.h5" for n in range(3)]
    assert plan.faults == {}


def test_several_houses_have_a_folder_each(season: Make) -> None:
    made = season(1)
    (made.folder / "other.toml").write_text((made.folder / "hut.toml").read_text().replace("Hut", "Other"))
    made.setlist.write_text(made.setlist.read_text().replace('"hut.toml"', '["hut.toml", "other.toml"]'))
    plan = plan_batch(made.setlist)
    assert [task.name for task in plan.tasks] == ["song-0, hut", "song-0, other"]
    assert [Path(task.out).relative_to(made.folder).as_posix() for task in plan.tasks] == [
        "frames/hut/song-0.h5",
        "frames/other/song-0.h5",
    ]


def test_a_song_named_twice_is_rendered_once(season: Make) -> None:
    made = season(2)
    made.write(["song-0.wav", "song-1.wav", "song-0.wav"])
    assert [task.name for task in plan_batch(made.setlist).tasks] == ["song-0", "song-1"]


def test_two_songs_for_one_frames_file_are_refused(season: Make) -> None:
    made = season(2)
    made.setlist.write_text(made.setlist.read_text() + 'frames = "frames/song-0.h5"\n')
    assert "'song-1' would write 'frames/song-0.h5', as 'song-0' does" in refused(made.setlist)
    assert "Give one of them a frames file of its own" in refused(made.setlist)


def test_frames_never_take_the_place_of_something_else(season: Make) -> None:
    made = season(1)
    made.setlist.write_text(made.setlist.read_text() + 'frames = "two.show.toml"\n')
    assert "this is no frames file (found 'two.show.toml')\n    End its name with '.h5'." in refused(made.setlist)


def test_a_missing_show_and_a_missing_house_are_told_at_once(season: Make) -> None:
    made = season(1)
    made.setlist.write_text('show = "tow.show.toml"\nlayout = "hat.toml"\n[[song]]\nsong = "song-0.wav"\n')
    told = refused(made.setlist)
    assert "tow.show.toml, named in season.toml, line 1, show: there is no such file\n    Did you mean 'two." in told
    assert "hat.toml, named in season.toml, line 2, layout: there is no such file\n    Did you mean 'hut.toml'?" in told


def test_a_path_that_climbs_out_is_refused(season: Make) -> None:
    made = season(1)
    made.write(["../song-0.wav"])
    assert "line 6, song 1, song: this path leads out of the setlist's folder" in refused(made.setlist)
    made.write(["song-0.wav"], 'title = "x"')
    made.setlist.write_text(made.setlist.read_text().replace('"frames"', '"/tmp/frames"'))
    assert "frames: this path leads out of the setlist's folder" in refused(made.setlist)


def test_a_song_without_layout(season: Make) -> None:
    made = season(1)
    made.setlist.write_text('[[song]]\nsong = "song-0.wav"\n')
    assert "'song-0' has no 'layout'\n    Add a line 'layout = …' to it, or at the top" in refused(made.setlist)


def test_every_mistake_in_every_file_is_told(season: Make) -> None:
    made = season(1)
    (made.folder / "two.show.toml").write_text('[[cue]]\neffect = "gradeint"\n')
    (made.folder / "hut.toml").write_text('title = "Hut"\n')
    told = refused(made.setlist)
    assert "Did you mean 'gradient'?" in told
    assert "'prop' is missing" in told
    (made.folder / "two.show.toml").write_text('[[cue]]\neffect = "gradient"\n')
    assert "'prop' is missing" in refused(made.setlist, LayoutError)


def test_a_song_that_is_not_there_is_that_songs_own_affair(season: Make) -> None:
    made = season(2)
    made.write(["song-0.wav", "sogn-1.wav"])
    (made.folder / "empty.wav").write_bytes(b"")
    made.write(["song-0.wav", "sogn-1.wav", "empty.wav"])
    faults = plan_batch(made.setlist).faults
    assert faults == {
        1: "sogn-1.wav: there is no such file. Did you mean 'song-1.wav'?",
        2: "empty.wav: is empty",
    }


def test_what_eavesong_did_not_write_is_not_overwritten(season: Make) -> None:
    """A text, someone else's HDF5 file, a folder: each is its own song's affair, and the others go on."""
    import h5py

    made = season(5)
    frames = made.folder / "frames"
    frames.mkdir()
    (frames / "song-0.h5").write_text("my notes")
    with h5py.File(frames / "song-1.h5", "w") as file:
        file["measured"] = [1.0, 2.0]
    (frames / "song-2.h5").mkdir()
    elsewhere = made.folder / "elsewhere.h5"
    (frames / "song-3.h5").symlink_to(elsewhere)
    before = (frames / "song-1.h5").read_bytes()
    ran = made.here("--workers", "1")
    assert ran.returncode == 1, ran.stderr
    assert "Traceback" not in ran.stdout + ran.stderr
    assert (frames / "song-0.h5").read_text() == "my notes"
    assert (frames / "song-1.h5").read_bytes() == before
    assert (frames / "song-3.h5").is_symlink()
    assert elsewhere.is_file()
    other = "is there already, and is no frames file of eavesong. Choose another name, delete it, or say --overwrite."
    report = json.loads((made.folder / "season.report.json").read_text())["songs"]
    assert {song["name"]: song["reason"] for song in report if song["status"] == "failed"} == {
        "song-0": f"song-0.h5: {other}",
        "song-1": f"song-1.h5: {other}",
        "song-2": "song-2.h5: is a folder. Name a file in it, or choose another name.",
    }
    made.here("--workers", "1", "--overwrite")
    report = json.loads((made.folder / "season.report.json").read_text())["songs"]
    assert [song["name"] for song in report if song["status"] == "failed"] == ["song-2"]


def test_long_names_are_shortened_with_a_hash(season: Make) -> None:
    """80 letters of three bytes each fill a name; their frames are found again by the evening that plays them."""
    from eavesong.season import run_batch
    from eavesong.season.setlist import load_setlist

    made = season(2)
    names = ["灯" * 80 + ".wav", "灯" * 83 + ".wav"]
    for number, name in enumerate(names):
        (made.folder / f"song-{number}.wav").rename(made.folder / name)
        for suffix in (".beats", ".sections"):
            (made.folder / f"song-{number}{suffix}").rename(made.folder / (name[:-4] + suffix)) if not number else None
    made.write(names)
    assert run_batch(made.setlist, workers=1).all_well
    setlist = load_setlist(made.setlist)
    assert all(setlist.beside(song.frames_file).is_file() for song in setlist.songs)
    longer = "灯" * 90
    made.setlist.write_text(made.setlist.read_text() + f'frames = "{longer}.h5"\n')
    *_, last = load_setlist(made.setlist).songs
    assert last.frames_file.startswith("灯" * 70)
    assert len(last.frames_file.encode()) <= 255
    made.write([longer + ".wav"])
    assert "there is no such file" in plan_batch(made.setlist).faults[0]


def test_songs_that_cannot_be_used_are_told_first_and_once_whatever_houses_they_are_for(season: Make) -> None:
    made = season(1)
    (made.folder / "other.toml").write_text((made.folder / "hut.toml").read_text().replace("Hut", "Other"))
    made.write(["song-0.wav", "sogn-1.wav"], 'limit = "supply"\n')
    made.setlist.write_text(made.setlist.read_text().replace('"hut.toml"', '["hut.toml", "other.toml"]'))
    told: list[str] = []
    plan = plan_batch(made.setlist, say=told.append)
    assert sorted(plan.faults) == [0, 1, 2, 3]
    assert told == [
        "left out    song-0, hut: season/hut.toml: the layout has no supply to limit. Describe them, or limit "
        "the whole house: \"house:1500W\". Or ask for none on it: 'limit = []' below a [[house]] with its layout.",
        told[0].replace("hut", "other"),
        "left out    sogn-1, hut and 1 more: sogn-1.wav: there is no such file. Did you mean 'song-0.wav'?",
    ]


def test_all_that_is_wrong_anywhere_is_told_in_one_round(season: Make) -> None:
    """In the setlist, a show, a house, and of songs that are not there."""
    made = season(2)
    made.setlist.write_text(
        'layout = "hut.toml"\nshow = "two.show.toml"\nframes = "frames"\n[[song]]\nsong = "song-0.wav"\n'
        '[[song]]\nsong = "song-1.wav"\nframes = "frames/song-0.h5"\n[[song]]\nsong = "sogn-2.wav"\n'
    )
    (made.folder / "two.show.toml").write_text('[[cue]]\neffect = "gradeint"\n')
    (made.folder / "hut.toml").write_text('title = "Hut"\n')
    told = refused(made.setlist)
    for found in (
        "as 'song-0' does",
        "Did you mean 'gradient'?",
        "'prop' is missing",
        "sogn-2.wav: there is no such file",
    ):
        assert found in told
