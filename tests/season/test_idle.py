"""The colour between songs keeps to what the house wishes."""

import contextlib
import re
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from eavesong.layout import load_layout
from eavesong.limits.limits import amperes_of
from eavesong.playback.source import FileSource
from eavesong.render import Order, render
from eavesong.season.evening import dry_run
from eavesong.season.idle import idle_frame, idle_outdated, idle_words
from eavesong.season.report import batch_text
from eavesong.season.run import run_batch
from eavesong.season.setlist import load_setlist
from eavesong.within.rig import rig_of
from playback.helpers import house, moving, write_frames
from powered import LINE
from season.conftest import write_song

UNLIT = 'title = "House"\nunlit = ["prop 2"]\n'
GOLD = '[palettes]\ngold = ["#00ff00"]\n'
HUE = '[colours]\ncrimson = "blue"\n'
BLUE = '[palettes]\nall = "blue"\n'
CANDLE = '[palettes]\nall = ["#3a0000", "#0000ff", "#ff3b00"]\n'


@pytest.mark.parametrize(
    ("layout", "first", "second", "words"),
    [
        ('title = "House"\n', [51, 0, 0], [51, 0, 0], "red"),
        (UNLIT, [51, 0, 0], [0, 0, 0], "red; unlit: prop 2"),
        (UNLIT + BLUE, [0, 0, 51], [0, 0, 0], "red, here in the house's own #0000ff; unlit: prop 2"),
        (UNLIT + CANDLE, [51, 2, 0], [0, 0, 0], "red, here in the house's own #ff3b00; unlit: prop 2"),
        (UNLIT + GOLD, [51, 0, 0], [0, 0, 0], "red; unlit: prop 2"),
        (UNLIT + HUE, [0, 0, 51], [0, 0, 0], "red, here in the house's own #0000ff; unlit: prop 2"),
        (
            UNLIT + GOLD.replace("gold", "red"),
            [0, 51, 0],
            [0, 0, 0],
            "red, here in the house's own #00ff00; unlit: prop 2",
        ),
    ],
)
def test_what_is_unlit_stays_dark_and_all_is_in_the_colours_of_the_house(
    tmp_path: Path, layout: str, first: list[int], second: list[int], words: str
) -> None:
    """A fifth of full drive is 51 of 255."""
    described = house(universes=2, pixels=4)
    described = replace(described, texts={**described.texts, "layout": layout})
    write_frames(tmp_path / "a.h5", described, moving(described, 4))
    with contextlib.closing(FileSource(tmp_path / "a.h5")) as source:
        assert idle_frame(source, "red", 0.2).tolist() == first * 4 + second * 4
        assert idle_words(source, "red", 0.2) == words


@pytest.mark.parametrize(("limit", "watts"), [((), 13.0), (("house:5W",), 5.0)])
@pytest.mark.parametrize("there", [True, False])
def test_what_the_songs_were_limited_to_holds_between_them(
    tmp_path: Path, limit: tuple[str, ...], watts: float, there: bool
) -> None:
    """A hundred pixels of 20 mA a colour at 5 V take 30 W at full white, some 15 W at half. The house is known where
    nothing but frames is left, too."""
    layout, show = tmp_path / "line.toml", tmp_path / "a.show.toml"
    layout.write_text(LINE)
    show.write_text("[[cue]]\neffect = 'plain'\n")
    render(Order.of(show, layout, write_song(tmp_path / "song.wav"), limit=limit), tmp_path / "a.h5")
    rig = rig_of(load_layout(layout))
    if not there:
        layout.unlink()
    with contextlib.closing(FileSource(tmp_path / "a.h5")) as source:
        frame = idle_frame(source, "white", 0.5)
        words = idle_words(source, "white", 0.5)
    drawn = float((amperes_of(rig, frame) * rig.volts).sum())
    if limit:
        assert 0.9 * watts < drawn <= watts
        assert words == "white; dimmed to stay within house:5W"
    else:
        assert drawn > watts
        assert words == "white"


def test_an_idle_look_for_another_house_is_left_out(season) -> None:
    """Its universes are those of that house: this one would be dark, and something else lit."""
    made = season(1)
    hut, barn = made.folder / "hut.toml", made.folder / "barn.toml"
    names = ", ".join(re.findall(r'name = ("[^"]+")', hut.read_text()))
    box = f'[[controller]]\nname = "box"\naddress = "127.0.0.1"\n[[controller.output]]\nnumber = 1\nchain = [{names}]\n'
    hut.write_text(hut.read_text() + box)
    barn.write_text(re.sub(r"pixels = (\d+)", r"pixels = 1\1", hut.read_text()))
    render(Order(made.folder / "two.show.toml", barn, made.folder / "song-0.wav"), made.folder / "look.h5")
    made.setlist.write_text(made.setlist.read_text() + '[evening]\nstart = "17:00"\nend = "22:00"\nidle = "look.h5"\n')
    setlist = load_setlist(made.setlist).for_house(None)
    told = "\n".join(dry_run(setlist, datetime(2026, 12, 1, 12, tzinfo=UTC), local=UTC).lines)
    assert re.search(r"left out: the idle look: .*look.h5: was made for another house, '.*/barn.toml'", told)
    assert "--out ANOTHER.h5" in told


def test_an_idle_look_that_nobody_makes_is_told(tmp_path: Path) -> None:
    """Silent where it is there, where a song of the setlist makes it, and where it is a colour."""

    def told(idle: str) -> list[str]:
        """What is said of the idle look of a setlist for two houses."""
        text = 'layout = ["a.toml", "b.toml"]\n[[song]]\nsong = "frost.flac"\n[evening]\nstart = "17:00"\n'
        (tmp_path / "s.toml").write_text(f'{text}end = "22:00"\nidle = "{idle}"\n')
        return list(idle_outdated(load_setlist(tmp_path / "s.toml")))

    first, second = told("candles.h5")
    assert first.startswith(
        "[evening], idle: there is no 'a/candles.h5' or 'candles.h5', so it is dark on a between the songs."
    )
    assert "dark on b" in second
    assert told("frost.h5") == told("red") == []


def test_an_idle_look_for_a_house_as_it_was_is_told_at_the_end_of_a_batch(season) -> None:
    made = season(1)
    made.setlist.write_text(made.setlist.read_text() + '[evening]\nstart = "17:00"\nend = "22:00"\nidle = "look.h5"\n')
    hut = made.folder / "hut.toml"
    names = ", ".join(re.findall(r'name = ("[^"]+")', hut.read_text()))
    box = f'[[controller]]\nname = "box"\naddress = "127.0.0.1"\n[[controller.output]]\nnumber = 1\nchain = [{names}]\n'
    hut.write_text(hut.read_text() + box)
    missing = run_batch(made.setlist, workers=1)
    assert missing.idle[0].startswith("[evening], idle: there is no ")
    render(Order(made.folder / "two.show.toml", hut, made.folder / "song-0.wav"), made.folder / "look.h5")
    assert not run_batch(made.setlist, workers=1).idle
    show = made.folder / "two.show.toml"
    was = show.read_text()
    show.write_text(f"{was}\n# another look\n")
    (changed,) = run_batch(made.setlist, workers=1).idle
    assert re.match(r"\[evening\], idle: the idle look 'look.h5': '.*two.show.toml' was changed after these", changed)
    show.write_text(was)
    (made.folder / "song-0.beats").write_text("0 1\n0.5 2\n1.1 3\n1.5 4\n")
    (changed,) = run_batch(made.setlist, workers=1).idle
    assert re.match(r"\[evening\], idle: the idle look 'look.h5': '.*song-0.beats' was changed after these", changed)
    render(Order(made.folder / "two.show.toml", hut, made.folder / "song-0.wav"), made.folder / "look.h5")
    hut.write_text(hut.read_text().replace("pixels = 60", "pixels = 70"))
    moved = run_batch(made.setlist, workers=1)
    (told,) = moved.idle
    assert re.match(
        r"\[evening\], idle: the idle look 'look.h5': the pixels or universes of '.*hut.toml' have changed", told
    )
    assert not moved.all_well
    assert "have changed since" in " ".join(batch_text(moved).split())
