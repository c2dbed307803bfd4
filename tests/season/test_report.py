"""The end of a batch: a table of 80 columns, and the same for programs."""

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from eavesong.season import Outcome, run_batch
from eavesong.season.remarks import Remark
from eavesong.season.report import batch_dict, batch_text
from eavesong.season.run import Finished

Make = Callable[..., "Season"]  # noqa: F821

LONG = "A name that is a good deal longer than the column it has to stand in"


@pytest.fixture
def finished() -> Finished:
    outcomes = (
        Outcome(0, "Frost", "frames/frost.h5", "rendered", "new", 4.0, 200.0, 8000, 12_000_000),
        Outcome(1, LONG, "frames/long.h5", "up to date", "as it was", 0.1, 100.0, 4000, 500),
        Outcome(2, "Bells", "frames/bells.h5", "failed", "bells.wav: is empty. " + "Write another. " * 9),
    )
    return Finished(Path("season.toml"), outcomes, 10.0, "2")


def test_the_table_fits_80_columns_and_tells_why_something_failed(finished: Finished) -> None:
    text = batch_text(finished)
    assert max(map(len, text.splitlines())) <= 80
    assert "Bells: bells.wav: is empty." in text
    assert LONG in text.splitlines(), "whole, above its figures: the house stands at its end"


def test_the_sum_counts_each_kind_and_the_speed_of_what_was_rendered(finished: Finished) -> None:
    """200 s of song in 10 s."""
    last = batch_text(finished).splitlines()[-1]
    assert last.startswith("1 failed, 1 rendered, 1 up to date in 0:10: 3:20 of song, 20 times real time")


def test_programs_are_told_the_same(finished: Finished) -> None:
    told = json.loads(json.dumps(batch_dict(finished)))
    assert told["all_well"] is False
    assert [song["status"] for song in told["songs"]] == ["rendered", "up to date", "failed"]


def test_what_is_odd_with_the_setlist_is_told_at_the_end_too(finished: Finished) -> None:
    """Who reads the report in the morning has not seen the first lines."""
    outcomes = tuple(outcome for outcome in finished.outcomes if outcome.status != "failed")
    odd = Finished(Path("season.toml"), outcomes, 10.0, "2", doubts=("Frost is made for 15 of 16 houses.",))
    assert odd.all_well
    assert "Frost is made for 15 of 16 houses.\n" in batch_text(odd)
    assert batch_text(odd).endswith("; all else is well")
    assert batch_dict(odd)["doubts"] == ["Frost is made for 15 of 16 houses."]
    idle = Finished(Path("season.toml"), outcomes, 10.0, "2", idle=("[evening], idle: there is no 'look.h5'.",))
    assert "well" not in batch_text(idle)
    assert batch_dict(idle)["all_well"] is False


def test_one_reason_is_told_once_and_what_was_forgotten_at_the_end() -> None:
    reason = "bells.wav: there is no such file"
    notes = ("perhaps forgotten: those in 'hut' are softened",)
    outcomes = (
        *(Outcome(number, f"Bells, house {number}", "b.h5", "failed", reason) for number in range(8)),
        Outcome(8, "Frost", "f.h5", "rendered", "new", notes=notes),
    )
    text = batch_text(Finished(Path("season.toml"), outcomes, 10.0, "2"))
    assert text.count(reason) == 1
    assert f"Bells, house 0 and 7 more: {reason}" in text
    assert f"Frost: {notes[0]}." in text.splitlines()


BOX = """
[[controller]]
name = "box"
[[controller.output]]
number = 1
chain = ["gutter", "arch", "fir"]
[[supply]]
name = "tiny"
volts = 5
watts = 1
[[supply.feed]]
controller = "box"
output = 1
"""


@pytest.mark.usefixtures("in_process")
def test_what_holds_for_a_house_is_told_once_and_programs_learn_what_it_is_about(season: Make) -> None:
    made = season(2)
    hut = (made.folder / "hut.toml").read_text()
    (made.folder / "hut.toml").write_text(hut + BOX)
    (made.folder / "barn.toml").write_text(hut)
    show = made.folder / "two.show.toml"
    show.write_text(f'{show.read_text()}[[cue]]\neffect = "crossing"\non = "arch or pond"\nsections = "chorus"\n')
    songs = '[[song]]\nsong = "song-0.wav"\n[[song]]\nsong = "song-1.wav"\n'
    made.setlist.write_text(
        f'show = "two.show.toml"\nlayout = ["hut.toml", "barn.toml"]\nframes = "frames"\nfindings = "limits"\n{songs}'
    )
    for _ in range(2):  # rendered, then up to date
        finished = run_batch(made.setlist, workers=1)
        text = re.sub(r"\n +", " ", batch_text(finished))
        assert len(re.findall(r"^hut, whatever the song: .*'tiny'", text, re.MULTILINE)) == 1
        assert not re.search(r"^song-\d, hut: .*'gutter' pixel", text, re.MULTILINE)
        told = json.loads(json.dumps(batch_dict(finished)))
        hut_told = next(house for house in told["houses"] if house["house"] == "hut")
        assert hut_told["layout"] == str(made.folder / "hut.toml")
        assert {"supply"} <= {found["kind"] for found in hut_told["findings"]}
        assert ["tiny"] in [found.get("supplies") for found in hut_told["findings"]]
        first = told["songs"][0]
        assert first["song"] == str(made.folder / "song-0.wav")
        assert (first["house"], first["layout"]) == ("hut", str(made.folder / "hut.toml"))
        assert first["show"] == str(show)


@pytest.mark.usefixtures("in_process")
def test_what_the_setlist_makes_no_longer_is_named_for_as_long_as_it_lies_there(season: Make) -> None:
    made = season(2)
    made.here()
    made.write(["song-0.wav"])
    old = made.folder / "frames" / "song-1.h5"
    for _ in range(2):
        assert f"Left from earlier, and made no longer: {old}." in made.here().stdout
    told = json.loads((made.folder / "season.report.json").read_text())
    assert told["left_behind"] == [str(old)]
    old.unlink()
    assert "Left from earlier" not in made.here().stdout


@pytest.mark.usefixtures("in_process")
def test_the_terms_are_told_also_of_what_is_up_to_date(season: Make) -> None:
    made = season(1)
    made.write(["song-0.wav"], "frame_rate = 20")
    for _ in range(2):
        (outcome,) = run_batch(made.setlist, workers=1).outcomes
        assert "20" in outcome.asked


@pytest.mark.parametrize("kind", ["hue", "unmet"])
def test_what_becomes_of_wishes_is_told_though_it_is_no_fault(kind: str) -> None:
    remark = Remark(False, "the house's [palettes], all: 12 % of what is lit shows a hue between", kind)
    outcomes = tuple(Outcome(n, f"Song {n}", "f.h5", "rendered", "new", findings=(remark,)) for n in range(22))
    finished = Finished(Path("season.toml"), outcomes, 10.0, "2")
    text = batch_text(finished)
    assert finished.all_well
    assert text.count("12 % of what is lit") == 20
    assert "and 2 more about what houses wish" in text
    assert "lesser" not in text


def test_light_too_faint_for_its_colour_is_told_of_one_song_and_counted_of_others() -> None:
    remark = Remark(False, "the house's brightness: 9 % of what is lit is so faint", "faint")
    outcomes = tuple(Outcome(n, f"Song {n}", "f.h5", "rendered", "new", findings=(remark,)) for n in range(3))
    told = " ".join(batch_text(Finished(Path("s.toml"), outcomes, 1.0, "2")).split())
    assert told.count("9 % of what is lit") == 1
    assert "Likewise 2 more, which the report lists." in told
    assert "lesser" not in told


def test_where_all_of_a_house_stands_in_is_counted_apart() -> None:
    found = 'cue 3, on: no prop here matches "cane"; lit is '
    remarks = tuple(Remark(False, found + what, "stand-in") for what in ("the ground", "the whole house"))
    finished = Finished(Path("s.toml"), (Outcome(1, "Frost", "f.h5", "rendered", "new", findings=remarks),), 1.0, "2")
    told = " ".join(batch_text(finished).split())
    assert "2 lesser findings, of what stands in 2 (the whole house in 1 song, first in Frost); the report" in told


def test_what_is_grave_in_a_song_on_several_houses_is_told_once() -> None:
    remark = Remark(True, "its song is another file now", "song")
    outcomes = tuple(
        Outcome(n, f"mill, {house}", "f.h5", "rendered", "new", findings=(remark,))
        for n, house in enumerate(("robin", "swift", "thrush"))
    )
    text = batch_text(Finished(Path("season.toml"), outcomes, 10.0, "2"))
    assert text.count("its song is another file now") == 1
    assert "mill, robin, swift, thrush: its song is another file now" in " ".join(text.split())
