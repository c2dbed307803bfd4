"""What is in a pack."""

import hashlib
import tomllib
import zipfile

import pytest

from eavesong.errors import ShowError
from eavesong.exchange import pack, read_trace
from eavesong.exchange.archive import read_entries
from eavesong.exchange.pack import _some_of


def test_plain_texts_that_stand_by_themselves(packed):
    folder, song = packed
    entries = read_entries(folder / "a.pack.zip")
    assert list(entries) == [
        "README.txt", "pack.toml", "a.show.toml", "own.toml", "song.beats", "song.sections", "song.events",
        "song.trace",
    ]  # fmt: skip
    for data in entries.values():
        data.decode("ascii")
    manifest = tomllib.loads(entries["pack.toml"].decode())
    assert (manifest["title"], manifest["licence"], manifest["credits"]) == ("Winter", "CC BY 4.0", ["Ada Example"])
    assert manifest["song"]["sha256"] == hashlib.sha256(song.path.read_bytes()).hexdigest()
    assert entries["a.show.toml"] == (folder / "a.show.toml").read_bytes()
    assert entries["song.beats"] == song.beats_path.read_bytes()


def test_the_readme_is_a_screen_that_says_who_may_use_it(packed):
    """25 lines of 80 columns are a screen at its smallest; ours may need a few more (common practice)."""
    text = read_entries(packed[0] / "a.pack.zip")["README.txt"].decode()
    assert len(text.splitlines()) <= 32
    assert max(map(len, text.splitlines())) <= 90
    for said in ("CC BY 4.0", "Ada Example", "eavesong unpack", "you need a copy of your own", "own.toml"):
        assert said in text


def test_nothing_of_the_song_is_in_it(packed):
    """A hundredth of the song's bytes, and of its sound only what begins when."""
    folder, song = packed
    assert (folder / "a.pack.zip").stat().st_size < song.path.stat().st_size / 40
    trace = read_trace(read_entries(folder / "a.pack.zip")["song.trace"].decode(), "song.trace")
    assert trace.seconds == pytest.approx(song.grid.duration, abs=0.03)


def test_packed_twice_it_is_the_same(packed):
    folder, _ = packed
    again = pack(folder / "a.show.toml", folder / "again.zip", picture=False)
    assert again.path.read_bytes() == (folder / "a.pack.zip").read_bytes()
    assert again.size == again.path.stat().st_size


def test_a_filmstrip_is_in_it(packed):
    from io import BytesIO

    from PIL import Image

    from eavesong.files import shipped

    folder, _ = packed
    pack(folder / "a.show.toml", folder / "pictured.zip", layout=shipped("layouts") / "bungalow.toml")
    with zipfile.ZipFile(folder / "pictured.zip") as archive:
        with Image.open(BytesIO(archive.read("filmstrip.webp"))) as strip:
            assert strip.size[0] > 400
        assert "filmstrip.webp shows" in archive.read("README.txt").decode()


def test_the_filmstrip_shows_the_show_and_not_what_one_house_wishes(packed):
    """Colours and dark props that are wished for a house stay at home."""
    from eavesong.files import shipped

    folder, _ = packed
    house = (shipped("layouts") / "bungalow.toml").read_text()
    strips = []
    for wishes in ("", 'unlit = ["tree", "eaves"]\n'), ("[palettes]\nall = 'blue'\n[colours]\ngold = 'red'\n", ""):
        (folder / "home.toml").write_text(wishes[1] + house + wishes[0])
        pack(folder / "a.show.toml", folder / "wished.zip", layout=folder / "home.toml")
        strips.append(read_entries(folder / "wished.zip")["filmstrip.webp"])
    pack(folder / "a.show.toml", folder / "plain.zip", layout=shipped("layouts") / "bungalow.toml")
    assert strips == 2 * [read_entries(folder / "plain.zip")["filmstrip.webp"]]


@pytest.mark.parametrize(
    ("letters", "kept"),
    [("ab", "ab"), ("abcddbeef", "abcdef"), ("abcdefghijk", "acegik"), ("abababab", "ababab"), ("aaaaaaaaa", "aaaaaa")],
)
def test_the_filmstrip_shows_every_letter_where_there_is_room(letters, kept):
    spans = [(float(at), at + 1.0, letter) for at, letter in enumerate(letters)]
    some = _some_of(spans, 6)
    assert some == sorted(some)
    assert len(some) == min(6, len(letters))
    assert {label for *_, label in some} == set(kept)


def test_a_show_without_a_song_cannot_be_packed(tmp_path):
    (tmp_path / "a.show.toml").write_text('[[cue]]\neffect = "plain"\n')
    with pytest.raises(ShowError, match="names no song"):
        pack(tmp_path / "a.show.toml", tmp_path / "a.zip", picture=False)
