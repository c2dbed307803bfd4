"""Unpacking for one's own copy; from strangers, and back to the same copy."""

import shutil
import tomllib

import h5py
import numpy as np
import pytest
import soundfile

from eavesong.demo.songs import invent, make_songs
from eavesong.errors import BeatsError, OutputError, PackError, ShowError
from eavesong.exchange import find, read_pack, trace_of, unpack
from eavesong.exchange.archive import read_entries, zipped
from eavesong.music import read_events, read_grid
from eavesong.show import grid_of, load_show


@pytest.fixture
def pack_of(packed):
    return read_pack(packed[0] / "a.pack.zip")


def changed(packed, tmp_path, **entries):
    """The pack with other entries; None takes one out."""
    known = read_entries(packed[0] / "a.pack.zip")
    for name, data in entries.items():
        key = {"show": "a.show.toml", "beats": "song.beats", "manifest": "pack.toml", "trace": "song.trace"}[name]
        known[key] = data
    (tmp_path / "other.zip").write_bytes(zipped({name: data for name, data in known.items() if data is not None}))
    return tmp_path / "other.zip"


def test_the_very_same_file_gets_the_very_same_texts(packed, pack_of, tmp_path):
    folder, song = packed
    done = unpack(pack_of, song.path, tmp_path / "to")
    assert done.found.sure == "sure"
    assert (tmp_path / "to" / song.beats_path.name).read_bytes() == song.beats_path.read_bytes()
    assert grid_of(load_show(done.show)) == grid_of(load_show(folder / "a.show.toml"))
    assert (tmp_path / "to" / "own.toml").read_bytes() == (folder / "own.toml").read_bytes()
    before, after = (tomllib.loads(path.read_text()) for path in (folder / "a.show.toml", done.show))
    assert before == after


def test_the_same_frames_as_before_packing(packed, pack_of, tmp_path):
    from eavesong.files import shipped
    from eavesong.render import Order, render

    done = unpack(pack_of, packed[1].path, tmp_path / "to")
    light = []
    for number, show in enumerate((packed[0] / "a.show.toml", done.show)):
        order = Order.of(show, shipped("layouts") / "bungalow.toml", frame_rate=10, stop=12.0)
        render(order, tmp_path / f"{number}.h5")
        with h5py.File(tmp_path / f"{number}.h5") as file:
            light.append(file["frames"][:])
    assert light[0].any()
    assert np.array_equal(*light)


def test_a_copy_that_starts_in_the_middle(packed, pack_of, tmp_path):
    """The first 3 s are gone: every beat is 3 s earlier, within 5 ms, and cues by bars have moved."""
    sound, rate = soundfile.read(packed[1].path)
    soundfile.write(tmp_path / "mine.flac", sound[3 * rate :], rate)
    done = unpack(pack_of, tmp_path / "mine.flac", tmp_path / "to")
    wanted = np.array([time - 3 for time in packed[1].grid.times if time > 3.05])
    placed = read_grid(tmp_path / "to" / "mine.beats", None, 60.0)
    assert np.array(placed.times) == pytest.approx(wanted, abs=0.005)
    assert done.found.sure == "sure"
    assert any("3.00 s into it" in told for told in done.found.told)
    tables = tomllib.loads(done.show.read_text())
    assert tables["song"] == "mine.flac"
    assert tables["cue"][1]["bars"][1] < 9
    assert (tmp_path / "to" / "mine.flac").is_file()


def test_events_that_were_heard_go_along_to_a_copy_of_the_same_music(packed, pack_of, tmp_path):
    """Coded otherwise a copy is heard a little otherwise; where bars are new in it they want to be heard there."""
    sound, rate = soundfile.read(packed[1].path, dtype="float32")
    later = tmp_path / "later.wav"
    soundfile.write(later, np.concatenate([np.zeros_like(sound[:rate]), sound]), rate, subtype="PCM_16")
    unpack(pack_of, later, tmp_path / "to")
    (tmp_path / "song.events").write_bytes(pack_of.entries["song.events"])
    before, after = (read_events(path).items for path in (tmp_path / "song.events", tmp_path / "to" / "later.events"))
    assert [(each.label, each.strength) for each in after] == [(each.label, each.strength) for each in before]
    assert [each.time for each in after] == pytest.approx([each.time + 1 for each in before], abs=0.01)
    unpack(pack_of, packed[1].path, tmp_path / "same")
    assert not [*(tmp_path / "same").glob("*.events")]


def test_another_song_is_refused_with_the_reason(packed, pack_of, tmp_path):
    other = make_songs(tmp_path, (invent(9, 24.0),))[0]
    with pytest.raises(PackError, match=r"another song(.|\n)*--anyway"):
        unpack(pack_of, other.path, tmp_path / "to")
    assert not (tmp_path / "to").exists()
    found = find(pack_of.trace, pack_of.grid, other.path, anyway=True)
    assert found.sure == "unsure"


def test_nothing_is_replaced_unasked(packed, pack_of, tmp_path):
    to = tmp_path / "to"
    to.mkdir()
    (to / "a.show.toml").write_text("mine")
    with pytest.raises(OutputError, match="is there already"):
        unpack(pack_of, packed[1].path, to)
    assert sorted(path.name for path in to.iterdir()) == ["a.show.toml"]
    assert (to / "a.show.toml").read_text() == "mine"
    unpack(pack_of, packed[1].path, to, overwrite=True)
    assert (to / "a.show.toml").read_text() != "mine"


def test_no_link_leads_out_of_the_folder(packed, pack_of, tmp_path):
    (tmp_path / "to").mkdir()
    (tmp_path / "elsewhere.toml").write_text("mine")
    (tmp_path / "to" / "own.toml").symlink_to(tmp_path / "elsewhere.toml")
    with pytest.raises(OutputError, match="leads out of the folder"):
        unpack(pack_of, packed[1].path, tmp_path / "to", overwrite=True)
    assert (tmp_path / "elsewhere.toml").read_text() == "mine"


def test_the_song_may_lie_there_already(packed, pack_of, tmp_path):
    shutil.copy(packed[1].path, tmp_path / "mine.wav")
    done = unpack(pack_of, tmp_path / "mine.wav", tmp_path)
    assert done.show.parent == tmp_path


@pytest.mark.parametrize(
    ("entries", "error", "found"),
    [
        ({"manifest": None}, PackError, "no pack of a show"),
        ({"beats": None}, PackError, "no pack of a show"),
        ({"manifest": b"format = 2\n"}, PackError, "format|missing"),
        ({"manifest": b"\xff\xfe"}, PackError, "not UTF-8"),
        ({"trace": b"eavesong trace 1\nmoments 5\n"}, PackError, "song.trace"),
        ({"beats": b"rubbish\n"}, BeatsError, "not a time"),
        ({"show": None}, PackError, "names the show"),
        ({"show": b'[[cue]]\neffect = "../../own.toml"\n'}, ShowError, "no effect file|outside"),
        ({"show": b'[[cue]]\neffect = "/etc/passwd.toml"\n'}, ShowError, "no effect file|outside"),
    ],
)
def test_packs_from_strangers(packed, tmp_path, entries, error, found):
    with pytest.raises(error, match=found):
        read_pack(changed(packed, tmp_path, **entries))


def test_songs_beats_and_sections_that_a_stranger_names_are_not_looked_for(packed, tmp_path):
    show = b'song = "/etc/passwd"\nbeats = "../../secret.beats"\nsections = "x"\n[[cue]]\neffect = "plain"\n'
    done = unpack(read_pack(changed(packed, tmp_path, show=show)), packed[1].path, tmp_path / "to")
    tables = tomllib.loads(done.show.read_text())
    assert tables == {"song": packed[1].path.name, "cue": [{"effect": "plain"}]}


def test_the_trace_of_the_pack_is_that_of_its_song(packed, pack_of):
    assert np.array_equal(trace_of(packed[1].path).moments, pack_of.trace.moments)
