"""What 'new' writes works as it is: it is read without a word, and every cue lights something."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavesong.check import check
from eavesong.demo.starter import HOUSE, SETLIST, SHOW, Answers, make_starter
from eavesong.errors import OutputError
from eavesong.layout import load_layout
from eavesong.music import BeatGrid, Section
from eavesong.scene import set_scene
from eavesong.season.setlist import load_setlist
from eavesong.show import load_show

KINDS = ("quiet", "steady", "build", "high", "end")


def song() -> BeatGrid:
    """Ten bars of four beats at 120 a minute, two of each kind."""
    sections = tuple(Section(4.0 * at, 4.0 * at + 4, kind, kind) for at, kind in enumerate(KINDS))
    return BeatGrid(tuple(index / 2 for index in range(40)), (1, 2, 3, 4) * 10, sections, 20.0)


@pytest.mark.parametrize("answers", [Answers(), Answers(units="ft", width=33, height=20), Answers(arches=0, windows=1)])
def test_every_cue_and_every_prop_is_lit(tmp_path: Path, answers: Answers) -> None:
    make_starter(tmp_path / "new", answers)
    report = check(set_scene(load_show(tmp_path / "new" / SHOW), load_layout(tmp_path / "new" / HOUSE), song()))
    assert report.findings == ()


def test_the_setlist_names_the_other_two(tmp_path: Path) -> None:
    make_starter(tmp_path, Answers(song="bells.wav"))
    setlist = load_setlist(tmp_path / SETLIST)
    assert (setlist.songs[0].show, setlist.file.layout, setlist.songs[0].song) == (SHOW, (HOUSE,), "bells.wav")


def test_the_house_is_as_large_as_was_answered(tmp_path: Path) -> None:
    """40 ft are 12.192 m, 20 ft 6.096 m: the foot is 0.3048 m (international yard and pound agreement, 1959)."""
    make_starter(tmp_path, Answers(units="ft", width=40, height=20, trees=0, arches=0))
    lengths = {prop.name: prop.length for prop in load_layout(tmp_path / HOUSE).props}
    assert lengths["eaves"] == pytest.approx(12.192)
    assert lengths["gable"] == pytest.approx(2 * (6.096**2 + (0.4 * 6.096) ** 2) ** 0.5)  # Pythagoras


@pytest.mark.parametrize("answers", [Answers(), Answers(arches=0, trees=0, windows=0)])
def test_every_prop_is_wired_so_that_it_can_be_rehearsed(tmp_path: Path, answers: Answers) -> None:
    make_starter(tmp_path, answers)
    layout = load_layout(tmp_path / HOUSE)
    assert {run.prop for run in layout.patch.runs} == {prop.name for prop in layout.props}
    (controller,) = layout.patch.controllers
    assert controller.address == "127.0.0.1", "RFC 1122, 3.2.1.3: never leaves the computer"


def test_what_is_commented_out_can_be_taken_in(tmp_path: Path) -> None:
    make_starter(tmp_path, Answers())
    text = (tmp_path / HOUSE).read_text()
    for line in ("[frame]", "from =", "to =", "photo ="):
        text = text.replace(f"# {line}", line, 1)
    (tmp_path / HOUSE).write_text(text)
    layout = load_layout(tmp_path / HOUSE)
    assert layout.photo == "house.jpg"
    assert layout.frame.size.tolist() == [10, 6, 4]


def test_nothing_is_overwritten(tmp_path: Path) -> None:
    (tmp_path / SHOW).write_text("mine")
    with pytest.raises(OutputError, match="is there already"):
        make_starter(tmp_path, Answers())
    assert (tmp_path / SHOW).read_text() == "mine"
    assert not (tmp_path / HOUSE).exists()


@settings(max_examples=15)
@given(st.text(min_size=1, max_size=100), st.integers(0, 4), st.integers(0, 4), st.floats(3, 60))
def test_any_answers_make_a_house(tmp_path_factory, title: str, windows: int, arches: int, width: float) -> None:
    folder = tmp_path_factory.mktemp("new")
    make_starter(folder, Answers("x" + title, width=width, windows=windows, trees=0, arches=arches))
    assert load_layout(folder / HOUSE).pixel_count > 0


@pytest.mark.parametrize("answers", [Answers(), Answers(trees=2), Answers(trees=3, arches=40, windows=30),
                                     Answers(units="ft", width=33, height=20, trees=2)])  # fmt: skip
def test_every_output_can_be_refreshed_forty_times_a_second(tmp_path: Path, answers: Answers) -> None:
    """30 us a pixel and 280 us of reset (WS2811 datasheet: 1.25 us a bit, 24 bits) within 25 ms."""
    make_starter(tmp_path, answers)
    layout = load_layout(tmp_path / HOUSE)
    assert sum(len(string.pixels) for string in layout.power.strings) == layout.pixel_count
    assert max(30 * len(string.pixels) + 280 for string in layout.power.strings) <= 25_000
