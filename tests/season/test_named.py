"""What a setlist asks for that cannot be is told at the start, with its line, and nothing is begun."""

from collections.abc import Callable
from pathlib import Path

import pytest

from eavesong.errors import EavesongError
from eavesong.season import plan_batch, run_batch
from eavesong.season.named import half_listed, passed_over, read_twice
from eavesong.season.setlist import load_setlist

Make = Callable[..., "Season"]  # noqa: F821

pytestmark = pytest.mark.usefixtures("in_process")


def test_a_prop_that_no_house_has_stops_all_before_anything_is_begun(season: Make) -> None:
    made = season(2)
    made.write(["song-0.wav", "song-1.wav"], 'props = ["tre"]')
    said: list[str] = []
    with pytest.raises(EavesongError, match=r"line 4, props: no prop is called or tagged 'tre' on 'hut.toml'") as told:
        run_batch(made.setlist, workers=1, say=said.append)
    assert "Did you mean 'tree'?" in str(told.value)
    assert len(told.value.problems) == 1, "once, not for each song"
    assert said == []


@pytest.mark.parametrize(
    ("head", "own", "line"),
    [("", 'from = "1:10"\nto = "0:20"', 8), ('from = "1:10"', 'to = "0:20"', 7), ("to = 20", 'from = "1:10"', 4)],
)
def test_an_end_before_the_beginning_stops_all(season: Make, head: str, own: str, line: int) -> None:
    made = season(2)
    made.write(["song-0.wav", "song-1.wav"], head)
    text = made.setlist.read_text()
    made.setlist.write_text(text.replace('song = "song-0.wav"', f'song = "song-0.wav"\n{own}'))
    where = f"line {line}, {'song 1, ' if line > 4 else ''}to: 'song-0' would end at 0:20"
    with pytest.raises(EavesongError, match=f"{where}.*, and begin at 1:10"):
        plan_batch(made.setlist)


def test_a_missing_file_is_told_with_its_line_in_the_setlist(season: Make) -> None:
    made = season(1)
    made.setlist.write_text(made.setlist.read_text() + 'layout = ["hut.toml", "hat.toml"]\nshow = "tow.show.toml"\n')
    with pytest.raises(EavesongError) as told:
        plan_batch(made.setlist)
    for words in ("hat.toml, named in season.toml, line 7, song 1, layout", "line 8, song 1, show: there is no such"):
        assert words in str(told.value)


def test_instead_of_a_missing_song_only_songs_are_offered(season: Make) -> None:
    made = season(1)
    (made.folder / "basket.show.toml").write_text((made.folder / "two.show.toml").read_text())
    made.write(["basket.wav"])
    (fault,) = plan_batch(made.setlist).faults.values()
    assert fault.startswith("basket.wav: there is no such file")
    assert "toml" not in fault


def test_a_show_beside_its_song_that_is_passed_over_is_told(tmp_path: Path) -> None:
    (tmp_path / "december.toml").write_text(
        'show = "first.show.toml"\nlayout = "house.toml"\n[[song]]\nsong = "bells.wav"\n[[song]]\nsong = "snow.wav"\n'
    )
    (tmp_path / "bells.show.toml").write_text("")
    (line,) = passed_over(load_setlist(tmp_path / "december.toml"))
    assert line.startswith("bells: 'first.show.toml' is taken, not 'bells.show.toml' beside the song.")
    assert 'Write show = "bells.show.toml"' in line


def test_a_house_that_was_copied_with_its_reader_is_told(tmp_path: Path) -> None:
    houses = "".join(f'[[house]]\nlayout = "{name}.toml"\nfor = "{reader}"\n' for name, reader in
                     (("mill-lane", "Robin"), ("high-street", "Robin"), ("pond", "Swift")))  # fmt: skip
    houses += "".join(f'[[house]]\nlayout = "{name}.toml"\nfor = "Mr Fir"\n' for name in ("fir-home", "fir_hut"))
    for pages, count in (('pages = "pages"\n', 1), ("", 0)):
        (tmp_path / "season.toml").write_text(pages + houses + '[[song]]\nsong = "a.wav"\n')
        told = list(read_twice(load_setlist(tmp_path / "season.toml")))
        assert len(told) == count
        assert not told or told[0].startswith("The pages of mill-lane and high-street are all for 'Robin'.")


def test_a_house_that_was_taken_off_in_one_place_alone_is_told(tmp_path: Path) -> None:
    """Songs that name no house are made for those that have a [[house]]; one that names its houses is not asked."""
    houses = "".join(f'[[house]]\nlayout = "{name}.toml"\n' for name in ("mill-lane", "pond"))
    for listed, count in (('["mill-lane.toml", "pond.toml", "alder.toml"]', 1), ('["pond.toml"]', 0)):  # for one of two
        songs = f'[[song]]\nsong = "a.wav"\n[[song]]\nsong = "b.wav"\nlayout = {listed}\n'
        (tmp_path / "season.toml").write_text(houses + songs)
        told = list(half_listed(load_setlist(tmp_path / "season.toml")))
        assert len(told) == count
        assert not told or told[0].startswith("The house 'alder.toml' has no [[house]], and is named by b alone:")


def test_a_house_that_a_song_for_nearly_all_leaves_out_is_told(tmp_path: Path) -> None:
    """As where one house has a version of its own, and a new one is added: the list of all others does not know it."""
    names = ("mill-lane", "pond", "alder")
    houses = "".join(f'[[house]]\nlayout = "{name}.toml"\n' for name in (*names, "umber"))
    for listed, own, told in (
        (names[:2], '["alder.toml"]', 1),
        (names, '["umber.toml"]', 0),
        (names[:1], '["pond.toml"]', 0),
    ):
        songs = "".join(
            f'[[song]]\nsong = "b.wav"\nframes = "{frames}"\nlayout = {layouts}\n'
            for frames, layouts in (("b.h5", [f"{name}.toml" for name in listed]), ("own.h5", own))
        )
        (tmp_path / "season.toml").write_text(f'{houses}[[song]]\nsong = "a.wav"\n{songs}')
        found = list(half_listed(load_setlist(tmp_path / "season.toml")))
        assert len(found) == told
        assert not found or found[0].startswith("b is made for 3 of 4 houses, and not for umber.toml: its 'layout'")
