"""A show that counts the bars of one song, put on another."""

from collections.abc import Callable
from hashlib import sha256

import pytest

from eavesong.music.made_for import made_for_line
from eavesong.season import plan_batch, run_batch
from eavesong.season.report import batch_text

Make = Callable[..., "Season"]  # noqa: F821

pytestmark = pytest.mark.usefixtures("in_process")

BARS = '[[cue]]\neffect = "gradient"\nbars = [1, 3]\nopacity = 0.5\n'


def test_a_show_by_bars_on_another_song_is_told_until_it_names_that(season: Make) -> None:
    made = season(2)
    show = made.folder / "two.show.toml"
    own = show.read_text()
    show.write_text('song = "song-1.wav"\n' + own + BARS)
    made.write(["song-0.wav"])
    for status in ("rendered", "up to date"):
        finished = run_batch(made.setlist, workers=1)
        assert (finished.all_well, finished.outcomes[0].status) == (False, status)
    told = " ".join(batch_text(finished).split())
    assert "its show counts the bars of another song, 'song-1.wav'" in told
    assert 'write song = "song-0.wav" in two.show.toml' in told
    show.write_text('song = "song-0.wav"\n' + own + BARS)
    assert run_batch(made.setlist, workers=1).all_well


@pytest.mark.parametrize(
    ("named", "cues", "songs"),
    [
        ("song-1.wav", "", ["song-0.wav"]),  # sections are where they are in any song
        ("song-1.wav", BARS, ["song-0.wav", "song-1.wav"]),  # one show for many
        ("gone.wav", BARS, ["song-0.wav"]),  # nothing to compare with: a lesser finding
    ],
)
def test_shows_that_may_be_meant_for_it_leave_all_well(season: Make, named: str, cues: str, songs: list[str]) -> None:
    made = season(2)
    show = made.folder / "two.show.toml"
    show.write_text(f'song = "{named}"\n' + show.read_text() + cues)
    made.write(songs)
    finished = run_batch(made.setlist, workers=1)
    assert finished.all_well
    lesser = any("counts the bars of another song" in note.found for note in finished.outcomes[0].findings)
    assert lesser == (named == "gone.wav")


def test_a_wish_for_a_palette_that_one_show_of_the_setlist_has_is_no_slip(season: Make) -> None:
    """Whatever the other songs have; one that none of them has is, were it like no other."""
    made = season(2)
    own = "song-0.show.toml"
    (made.folder / own).write_text(made.folder.joinpath("two.show.toml").read_text() + '[palettes]\nrose = ["red"]\n')
    made.write(["song-0.wav"], keys="findings = 'show'")
    made.setlist.write_text(made.setlist.read_text() + f'show = "{own}"\n[[song]]\nsong = "song-1.wav"\n')
    house = made.folder / "hut.toml"
    without = house.read_text()
    for name, well in (("rose", True), ("quartz", False)):
        house.write_text(f'{without}\n[palettes]\n{name} = "gold"\n')
        finished = run_batch(made.setlist, workers=1)
        assert finished.all_well == well
        told = [note.found for outcome in finished.outcomes for note in outcome.findings if "[palettes]" in note.place]
        assert all("no palette is called 'quartz'" in found for found in told)
        assert len(told) == (0 if well else 2)


def test_a_wish_for_the_colour_between_the_songs_is_no_slip(season: Make) -> None:
    made = season(1)
    made.write(["song-0.wav"], keys="findings = 'show'")
    evening = '[evening]\nstart = "17:00"\nend = "22:00"\nidle = "gold"\n'
    made.setlist.write_text(made.setlist.read_text() + evening)
    house = made.folder / "hut.toml"
    without = house.read_text()
    for name, well in (("gold", True), ("teal", False)):
        house.write_text(f'{without}\n[palettes]\n{name} = "red"\n')
        finished = run_batch(made.setlist, workers=1)
        assert finished.all_well == well
        (told,) = [
            note.found for outcome in finished.outcomes for note in outcome.findings if "[palettes]" in note.place
        ]
        assert ("'gold' is the colour between the songs alone" in told) == well


def test_a_wish_for_a_palette_that_is_another_one_in_each_show_is_told(season: Make) -> None:
    """Drafts call palettes by letters: what a house wishes in place of one song's 'a' would do it to all of them."""
    made = season(2)
    text = made.folder.joinpath("two.show.toml").read_text()
    for number, colour in enumerate(("red", "navy")):
        (made.folder / f"song-{number}.show.toml").write_text(text + f'[palettes]\na = ["{colour}"]\n')
    made.setlist.write_text(made.setlist.read_text().replace('show = "two.show.toml"\n', ""))
    house = made.folder / "hut.toml"
    house.write_text(house.read_text() + '[palettes]\na = "gold"\n')
    told: list[str] = []
    plan_batch(made.setlist, say=told.append)
    (line,) = told
    assert "in place of 'a', which means #ff0000 in song-0.show.toml; #000080 in song-1.show.toml" in line
    (odd,) = run_batch(made.setlist, workers=1).doubts
    assert line == f"colours     {odd}"
    (made.folder / "song-1.show.toml").write_text(text + '[palettes]\na = ["red"]\n')
    plan_batch(made.setlist, say=told.append)
    assert told == [line]


@pytest.mark.parametrize("same", [True, False])
def test_a_show_that_was_copied_counts_the_bars_of_the_sound_it_was_written_for(season: Make, same: bool) -> None:
    """Its song is named from its own folder, where it does not lie; the sound that it was written for tells it."""
    made = season(1)
    sound = sha256((made.folder / "song-0.wav").read_bytes()).hexdigest() if same else 64 * "a"
    show = made.folder / "two.show.toml"
    show.write_text(f'{made_for_line(sound)}song = "pine/song-0.wav"\n{show.read_text()}{BARS}')
    made.write(["song-0.wav"])
    (outcome,) = run_batch(made.setlist, workers=1).outcomes
    assert any("counts the bars" in note.found for note in outcome.findings) != same
