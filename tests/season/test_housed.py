"""A house that has changed since its frames were made: new addresses are used, everything else is said."""

import hashlib
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from eavesong.files import content_hash
from eavesong.frames import describe
from eavesong.layout import load_layout
from eavesong.playback.source import FileSource
from eavesong.scene import Order, order_text
from eavesong.season.evening import dry_run
from eavesong.season.housed import HouseNow
from eavesong.season.setlist import Setlist, load_setlist
from playback.helpers import HOUSE, write_frames

SETLIST = """
layout = "house.toml"
[evening]
start = "17:00"
end = "17:10"
[[song]]
frames = "frost.h5"
"""


@pytest.fixture
def setlist(tmp_path: Path) -> Setlist:
    """One song on a house, and frames that were made for it as it is."""
    (tmp_path / "house.toml").write_text(HOUSE)
    layout = load_layout(tmp_path / "house.toml")
    described = describe(layout, title="Frost", frame_rate=10.0)
    write_frames(tmp_path / "frost.h5", described, np.zeros((20, described.channel_count), np.uint8))
    (tmp_path / "december.toml").write_text(SETLIST)
    return load_setlist(tmp_path / "december.toml").for_house(None)


def told(setlist: Setlist) -> tuple[str, tuple[tuple[str, ...], ...]]:
    """What is said of the house, and where the frames go."""
    with closing(FileSource(setlist.beside("frost.h5"))) as source:
        return HouseNow(setlist).takes(source, setlist.songs[0]), source.wiring.addresses


def change(setlist: Setlist, old: str, new: str) -> None:
    """Write something else into the layout."""
    path = setlist.beside("house.toml")
    assert old in path.read_text()
    path.write_text(path.read_text().replace(old, new))


def on_paper(setlist: Setlist) -> str:
    return "\n".join(dry_run(setlist, datetime(2026, 12, 4, 12, tzinfo=UTC), local=UTC).lines)


def test_of_a_house_that_stayed_nothing_is_said(setlist: Setlist) -> None:
    assert told(setlist) == ("", (("192.0.2.10",),))
    assert "look:" not in on_paper(setlist)


def test_a_new_address_is_used_and_said(setlist: Setlist) -> None:
    change(setlist, "192.0.2.10", "192.0.2.77")
    word, addresses = told(setlist)
    assert addresses == (("192.0.2.77",),)
    assert word.endswith("house.toml' has its controllers now: garage at 192.0.2.77")
    assert word in on_paper(setlist)


@pytest.mark.parametrize(("old", "new"), [("pixels = 20", "pixels = 21"), ("number = 1", "number = 1\nuniverse = 9")])
def test_other_pixels_or_universes_go_out_as_they_were_and_that_is_said(setlist: Setlist, old: str, new: str) -> None:
    change(setlist, old, new)
    word, addresses = told(setlist)
    assert addresses == (("192.0.2.10",),)
    assert "the pixels or universes of" in word
    assert f"eavesong batch {setlist.path}" in word


def test_an_idle_look_of_another_house_is_named_and_how_it_is_made(setlist: Setlist) -> None:
    """No batch renders it."""
    path = setlist.beside("december.toml")
    path.write_text(
        SETLIST.replace("[[song]]", 'idle = "frost.h5"\n[[song]]').replace('frames = "frost.h5"', 'song = "x"')
    )
    change(setlist, "pixels = 20", "pixels = 21")
    with closing(FileSource(setlist.beside("frost.h5"))) as source:
        word = HouseNow(setlist).takes_idle(source)
    assert word.startswith("the idle look 'frost.h5': the pixels or universes of")
    assert f"eavesong render … --layout {setlist.beside('house.toml')} --out " in word
    assert word in on_paper(load_setlist(path).for_house(None))


def test_a_prop_that_was_moved_is_said(setlist: Setlist) -> None:
    change(setlist, "to = [6, 3, 1]", "to = [7, 3, 1]")
    assert "has changed since the frames were made. Render them again" in told(setlist)[0]


def test_what_has_changed_beside_an_address_is_said_too(setlist: Setlist) -> None:
    change(setlist, "192.0.2.10", "192.0.2.77")
    change(setlist, "to = [6, 3, 1]", "to = [7, 3, 1]")
    word = told(setlist)[0]
    assert "house.toml' has its controllers now: garage at 192.0.2.77; " in word
    assert word.endswith(f"Render them again: eavesong batch {setlist.path}")


def test_a_rehearsal_names_no_address_that_gets_nothing(setlist: Setlist) -> None:
    change(setlist, "192.0.2.10", "192.0.2.77")
    with closing(FileSource(setlist.beside("frost.h5"))) as source:
        assert HouseNow(setlist, rehearsal=True).takes(source, setlist.songs[0]) == ""


def test_a_layout_that_is_not_there_changes_nothing_and_a_broken_one_is_told(setlist: Setlist) -> None:
    change(setlist, "[[controller]]", "[[controler]]")
    word, addresses = told(setlist)
    assert "cannot be read, so frames go where they were made for" in word
    setlist.beside("house.toml").unlink()
    assert told(setlist) == ("", addresses) == ("", (("192.0.2.10",),))


def test_a_layout_that_changes_in_the_course_of_the_evening_is_read_again(setlist: Setlist) -> None:
    house = HouseNow(setlist)
    for address in ("192.0.2.10", "192.0.2.200", "192.0.2.3"):
        change(setlist, "192.0.2.10", address)
        with closing(FileSource(setlist.beside("frost.h5"))) as source:
            house.takes(source, setlist.songs[0])
            assert source.wiring.addresses == ((address,),)
        change(setlist, address, "192.0.2.10")


def test_a_song_that_was_exchanged_after_its_frames_were_made_is_said(tmp_path: Path) -> None:
    (tmp_path / "house.toml").write_text(HOUSE)
    (tmp_path / "frost.wav").write_bytes(b"the song")
    hashes = {"audio": hashlib.sha256(b"the song").hexdigest()}  # FIPS 180-4
    described = describe(load_layout(tmp_path / "house.toml"), title="Frost", frame_rate=10.0, hashes=hashes)
    write_frames(tmp_path / "frost.h5", described, np.zeros((20, described.channel_count), np.uint8))
    (tmp_path / "december.toml").write_text(SETLIST.replace("[[song]]", '[[song]]\nsong = "frost.wav"'))
    setlist = load_setlist(tmp_path / "december.toml").for_house(None)
    assert "frost.wav" not in on_paper(setlist)
    (tmp_path / "frost.wav").write_bytes(b"another master")
    assert "'frost.wav' is not the file that the frames of 'frost' were made to" in on_paper(setlist)


def test_a_show_that_was_changed_after_its_frames_were_made_is_said(tmp_path: Path) -> None:
    (tmp_path / "house.toml").write_text(HOUSE)
    show = tmp_path / "frost.show.toml"
    show.write_text('title = "Frost"\n[[cue]]\neffect = "plain"\n')
    texts = {"show": show.read_text()}
    described = describe(load_layout(tmp_path / "house.toml"), title="Frost", frame_rate=10.0, texts=texts)
    write_frames(tmp_path / "frost.h5", described, np.zeros((20, described.channel_count), np.uint8))
    (tmp_path / "december.toml").write_text(f'{SETLIST}show = "frost.show.toml"\n')
    setlist = load_setlist(tmp_path / "december.toml").for_house(None)
    assert "frost.show.toml" not in on_paper(setlist)
    show.write_text('title = "Frost"\n[[cue]]\neffect = "swell"\n')
    (tmp_path / "frost.wav").touch()
    unnamed = SETLIST.replace("[[song]]", '[[song]]\nsong = "frost.wav"')  # drafted by a batch, beside its song
    (tmp_path / "unnamed.toml").write_text(unnamed)
    assert "'frost.show.toml' is not what" in on_paper(load_setlist(tmp_path / "unnamed.toml").for_house(None))
    assert "'frost.show.toml' is not what the frames of 'frost' were made from" in on_paper(setlist)


def test_beats_that_were_corrected_after_the_frames_were_made_are_said(tmp_path: Path) -> None:
    (tmp_path / "house.toml").write_text(HOUSE)
    (tmp_path / "frost.wav").write_bytes(b"the song")
    hashes = {"audio": hashlib.sha256(b"the song").hexdigest(), "beats file": content_hash("0 1\n1 2\n")}
    hashes |= {"sections file": content_hash(""), "events file": content_hash("")}
    described = describe(load_layout(tmp_path / "house.toml"), title="Frost", frame_rate=10.0, hashes=hashes)
    write_frames(tmp_path / "frost.h5", described, np.zeros((20, described.channel_count), np.uint8))
    (tmp_path / "december.toml").write_text(SETLIST.replace("[[song]]", '[[song]]\nsong = "frost.wav"'))
    setlist = load_setlist(tmp_path / "december.toml").for_house(None)
    assert "were made with" not in on_paper(setlist)  # no texts are there, as where frames are only played
    (tmp_path / "frost.beats").write_text("0 1\n1 2\n")
    assert "were made with" not in on_paper(setlist)
    (tmp_path / "frost.beats").write_text("0.5 1\n1.5 2\n")
    assert "'frost.beats' is not what the frames of 'frost' were made with" in on_paper(setlist)


@pytest.mark.parametrize(
    ("asked", "frames", "told"),
    [
        ("", {}, ""),
        (
            'limit = "house:5W"\n',
            {},
            "were asked for otherwise (no limit, now limit house:5W), and go out as they were.",
        ),
        ('limit = "house:5W"\n', {"limit": ("house:5W",)}, ""),
        ("", {"limit": ("house:5W",), "soften": True}, ""),  # kept by whoever does not speak of it
        ("soften = true\n", {}, "were asked for otherwise ("),
        ("", {"props": ("arch",)}, "are not all of it: only arch"),
        ('props = "arch"\n', {"props": ("arch",)}, ""),
        ("", {"stop": 1.0}, "are not all of it: "),
        ("to = 1\n", {"stop": 1.0}, ""),
    ],
)
def test_frames_that_were_asked_for_otherwise_are_said(tmp_path: Path, asked: str, frames: dict, told: str) -> None:
    (tmp_path / "house.toml").write_text(HOUSE)
    layout, order = load_layout(tmp_path / "house.toml"), Order("frost.show.toml", "house.toml", frame_rate=10.0)
    described = describe(layout, title="Frost", frame_rate=10.0, texts={"order": order_text(replace(order, **frames))})
    write_frames(tmp_path / "frost.h5", described, np.zeros((20, described.channel_count), np.uint8))
    (tmp_path / "december.toml").write_text(f"frame_rate = 10\n{asked}{SETLIST}")
    paper = on_paper(load_setlist(tmp_path / "december.toml").for_house(None))
    assert (told in paper) if told else ("look:" not in paper)


def test_an_effect_of_ones_own_that_was_changed_is_said(tmp_path: Path) -> None:
    (tmp_path / "house.toml").write_text(HOUSE)
    (tmp_path / "frost.show.toml").write_text('[[cue]]\neffect = "mine.toml"\n')
    texts = {"show": (tmp_path / "frost.show.toml").read_text(), "effect mine.toml": "mine = 1\n"}
    described = describe(load_layout(tmp_path / "house.toml"), title="Frost", frame_rate=10.0, texts=texts)
    write_frames(tmp_path / "frost.h5", described, np.zeros((20, described.channel_count), np.uint8))
    (tmp_path / "december.toml").write_text(f'show = "frost.show.toml"\n{SETLIST}')
    for text, said in (("mine = 1\n", False), ("mine = 2\n", True)):
        (tmp_path / "mine.toml").write_text(text)
        paper = on_paper(load_setlist(tmp_path / "december.toml").for_house(None))
        assert ("'mine.toml' is not what the frames of 'frost' were made with" in paper) is said


@pytest.fixture
def by_hand(tmp_path: Path) -> Setlist:
    """A song whose frames were made from a show, with an effect of its own, that the setlist does not name."""
    (tmp_path / "house.toml").write_text(HOUSE)
    (tmp_path / "shows").mkdir()
    (tmp_path / "shows" / "flashy.show.toml").write_text('[[cue]]\neffect = "mine.toml"\n')
    (tmp_path / "shows" / "mine.toml").write_text("mine = 1\n")
    (tmp_path / "frost.wav").write_bytes(b"the song")
    order = Order("shows/flashy.show.toml", "house.toml", "frost.wav", frame_rate=10.0)
    texts = {"show": '[[cue]]\neffect = "mine.toml"\n', "effect mine.toml": "mine = 1\n", "order": order_text(order)}
    hashes = {"audio": hashlib.sha256(b"the song").hexdigest()}
    described = describe(
        load_layout(tmp_path / "house.toml"), title="Frost", frame_rate=10.0, texts=texts, hashes=hashes
    )
    write_frames(tmp_path / "frost.h5", described, np.zeros((20, described.channel_count), np.uint8))
    setlist = f"frame_rate = 10\n{SETLIST}".replace("[[song]]", '[[song]]\nsong = "frost.wav"')
    (tmp_path / "december.toml").write_text(setlist)
    return load_setlist(tmp_path / "december.toml").for_house(None)


@pytest.mark.parametrize("file", ["shows/flashy.show.toml", "shows/mine.toml"])
def test_a_show_that_the_setlist_does_not_name_is_rendered_again_and_no_other(by_hand: Setlist, file: str) -> None:
    """A batch would draft another show, and put its frames in place of these."""
    assert "look:" not in on_paper(by_hand)
    path = by_hand.beside(file)
    path.write_text(path.read_text() + "# another\n")
    paper, folder = on_paper(by_hand), by_hand.path.parent
    assert (
        f"look: frost: '{path}' was changed after these frames were made, which go out as they were. Render: " in paper
    )
    assert (
        f"eavesong render {folder}/shows/flashy.show.toml --layout {folder}/house.toml --song {folder}/frost" in paper
    )
    assert "eavesong batch" not in paper


@pytest.mark.parametrize(
    ("file", "old", "new", "told"),
    [
        ("house.toml", "pixels = 20", "pixels = 21", "the pixels or universes of"),
        ("december.toml", "[[song]]", '[[song]]\nlimit = "house:5W"', "were asked for otherwise"),
        ("frost.wav", "the", "no", "'frost.wav' is not the file"),
    ],
)
def test_whatever_else_has_changed_of_such_frames_no_batch_is_advised(
    by_hand: Setlist, file: str, old: str, new: str, told: str
) -> None:
    path = by_hand.beside(file)
    path.write_text(path.read_text().replace(old, new))
    paper = on_paper(load_setlist(by_hand.path).for_house(None))
    assert told in paper
    assert "eavesong render" in paper
    assert "eavesong batch" not in paper
    assert ("--limit house:5W" in paper) is (file == "december.toml")


def test_an_effect_of_the_idle_look_that_was_changed_is_said(by_hand: Setlist) -> None:
    by_hand.beside("shows/mine.toml").write_text("mine = 2\n")
    with closing(FileSource(by_hand.beside("frost.h5"))) as source:
        word = HouseNow(by_hand).takes_idle(source)
    assert word.startswith(f"the idle look 'frost.h5': '{by_hand.beside('shows/mine.toml')}' was changed after these")
