"""What a batch says of the frames it made, and the pages it makes of them: once for each content."""

import hashlib
import json
import uuid
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from eavesong.errors import OutputError, Problem
from eavesong.music.made_for import made_for_line
from eavesong.season import plan_batch, run_batch
from eavesong.season.look import kept_look, look
from eavesong.season.report import batch_dict, batch_text
from eavesong.season.said import said

Make = Callable[..., "Season"]  # noqa: F821

pytestmark = pytest.mark.usefixtures("in_process")

DARK = '[[cue]]\neffect = "crossing"\non = "pond"\n'
"""A cue on what the house has not got."""


def seen(stage: str, done: int, total: int) -> None:
    """Nobody watches."""


def test_grave_findings_are_listed_and_all_is_not_well(season: Make) -> None:
    made = season(1)
    show = made.folder / "two.show.toml"
    show.write_text(show.read_text() + DARK)
    for status in ("rendered", "up to date"):  # the second time from what was kept
        finished = run_batch(made.setlist, workers=1)
        (outcome,) = finished.outcomes
        assert outcome.status == status
        assert not finished.all_well
        assert outcome.grave == (
            'line 12, cue 3, on: the cue lights nothing: no prop here matches "pond". Known names: arch, eaves, fir, '
            "ground, gutter, roofline, tree.",
        )
        assert "song-0: line 12, cue 3, on: the cue lights nothing" in batch_text(finished)
        told = json.loads(json.dumps(batch_dict(finished)))
        assert (told["all_well"], told["songs"][0]["findings"][0]["grave"]) == (False, True)


def test_another_copy_of_a_song_is_told_until_somebody_answers(season: Make) -> None:
    made = season(2)
    assert run_batch(made.setlist, workers=1).all_well
    (made.folder / "song-1.wav").write_bytes((made.folder / "song-0.wav").read_bytes())
    for status in ("rendered", "up to date"):
        finished = run_batch(made.setlist, workers=1)
        assert (finished.all_well, finished.outcomes[1].status) == (False, status)
        assert "song-1: its song is another file now" in batch_text(finished)
    house = made.folder / "hut.toml"
    house.write_text(house.read_text() + "\n# another light, the same song\n")
    assert not run_batch(made.setlist, workers=1).all_well
    show = made.folder / "two.show.toml"
    show.write_text(show.read_text() + "# looked at\n")
    assert run_batch(made.setlist, workers=1).all_well


def test_another_copy_of_a_song_is_told_on_though_the_show_changed_with_it(season: Make) -> None:
    made = season(1)
    run_batch(made.setlist, workers=1)
    song, show = made.folder / "song-0.wav", made.folder / "two.show.toml"
    song.write_bytes(song.read_bytes() + bytes(2))
    show.write_text(show.read_text() + "# of something else\n")
    for status in ("rendered", "up to date"):
        finished = run_batch(made.setlist, workers=1)
        assert (finished.all_well, finished.outcomes[0].status) == (False, status)


def test_another_copy_of_a_song_is_not_told_where_its_texts_were_carried_over(season: Make) -> None:
    made = season(1)
    run_batch(made.setlist, workers=1)
    song, text = made.folder / "song-0.wav", made.folder / "song-0.sections"
    song.write_bytes(song.read_bytes() + bytes(2))
    text.write_text(made_for_line(hashlib.sha256(song.read_bytes()).hexdigest()) + text.read_text())
    for status in ("rendered", "up to date"):
        finished = run_batch(made.setlist, workers=1)
        assert (finished.all_well, finished.outcomes[0].status) == (True, status)


def test_a_batch_that_is_forced_tells_of_another_copy_once(season: Make) -> None:
    made = season(1)
    run_batch(made.setlist, workers=1)
    song = made.folder / "song-0.wav"
    song.write_bytes(song.read_bytes() + bytes(2))
    assert "its song is another file now" in batch_text(run_batch(made.setlist, workers=1, again=True))
    assert run_batch(made.setlist, workers=1).all_well


def test_a_text_for_another_sound_is_told_on_every_run(season: Make) -> None:
    made = season(1)
    text = made.folder / "song-0.beats"
    text.write_text(made_for_line("0" * 64) + text.read_text())
    for status in ("rendered", "up to date"):
        finished = run_batch(made.setlist, workers=1)
        assert (finished.all_well, finished.outcomes[0].status) == (False, status)
        assert "'song-0.beats' was written for another file than song-0.wav is now" in batch_text(finished)


def test_frames_of_another_house_by_its_name_are_told_when_they_are_replaced(season: Make) -> None:
    made = season(1)
    run_batch(made.setlist, workers=1)
    house = made.folder / "hut.toml"
    (made.folder / "hut12.toml").write_text(house.read_text().replace("pixels = 60", "pixels = 61"))
    made.setlist.write_text(made.setlist.read_text().replace("hut.toml", "hut12.toml"))
    for notes in (("its frames were made for 'hut.toml', and are replaced. Frames of its own: frames = \"…\"",), ()):
        (outcome,) = run_batch(made.setlist, workers=1).outcomes
        assert outcome.notes == notes


def test_frames_of_a_show_that_the_setlist_does_not_name_are_told_when_they_are_replaced(season: Make) -> None:
    made = season(1)
    run_batch(made.setlist, workers=1)
    drafted = made.folder / "song-0.show.toml"
    drafted.write_text((made.folder / "two.show.toml").read_text().replace("Two", "Drafted"))
    made.setlist.write_text(made.setlist.read_text().replace('show = "two.show.toml"\n', ""))
    assert "two.show" not in made.setlist.read_text()
    for notes in (
        ("its frames were made from 'two.show.toml', and are replaced. To keep to that one: show = \"…\"",),
        (),
    ):
        (outcome,) = run_batch(made.setlist, workers=1).outcomes
        assert outcome.notes == notes


def test_wishes_that_a_new_layout_has_forgotten_are_told_once(season: Make) -> None:
    made = season(1)
    house = made.folder / "hut.toml"
    plain = house.read_text()
    house.write_text(f"brightness = 0.5\n{plain}[palettes]\nall = 'gold'\n[colours]\nred = 'blue'\n")
    assert run_batch(made.setlist, workers=1).outcomes[0].notes == ()
    house.write_text(plain)
    (outcome,) = run_batch(made.setlist, workers=1).outcomes
    told = " ".join(outcome.notes)
    own = "colours of its own in place of"
    for lost in (f"{own} all ([palettes])", f"{own} what is red ([colours])", "brightness 0.5 at most on every output"):
        assert f"wished before, and not in season/hut.toml any more: {lost}" in told
    assert run_batch(made.setlist, workers=1).outcomes[0].notes == ()


def test_a_song_is_called_on_its_page_what_the_setlist_calls_it(season: Make) -> None:
    made = season(1)
    for title, shown in (("", b"song 0"), ('title = "Sleigh Bells"\n', b"Sleigh Bells")):
        made.write(["song-0.wav"], 'pages = "pages"')
        made.setlist.write_text(made.setlist.read_text() + title)
        run_batch(made.setlist, workers=1)
        page = (made.folder / "pages" / "song-0.html").read_bytes()
        assert b"<title>" + shown in page
    show = made.folder / "two.show.toml"
    show.write_text(show.read_text().replace('title = "Two cues"', 'title = "sleigh bells"'))
    run_batch(made.setlist, workers=1)
    assert b"<title>Sleigh Bells<" in (made.folder / "pages" / "song-0.html").read_bytes()


def test_lesser_findings_are_counted_and_all_is_well(season: Make) -> None:
    made = season(1)
    show = made.folder / "two.show.toml"
    more = 'on = "tre or arch"\n[[cue]]\neffect = "crossing"\nsections = "bridge"\n'  # not every song has a bridge
    show.write_text(f'{show.read_text()}[[cue]]\neffect = "crossing"\n{more}')
    finished = run_batch(made.setlist, workers=1)
    assert finished.all_well
    assert [note.grave for note in finished.outcomes[0].findings] == [False, False]
    assert "2 lesser findings, of what stays dark 1; the report lists them" in batch_text(finished)


def test_limits_are_looked_at_where_they_are_wanted(season: Make) -> None:
    made = season(1)
    house = made.folder / "hut.toml"
    chain = '[[controller]]\nname = "box"\n[[controller.output]]\nnumber = 1\nchain = ["gutter", "arch", "fir"]\n'
    supply = '[[supply]]\nname = "tiny"\nvolts = 5\nwatts = 1\n[[supply.feed]]\ncontroller = "box"\noutput = 1\n'
    house.write_text(house.read_text() + chain + supply)
    finished = run_batch(made.setlist, workers=1)
    assert not finished.all_well
    assert [each.kind for each in finished.outcomes[0].findings] == ["supply"]  # that is told in any case
    made.write(["song-0.wav"], 'findings = "limits"')
    finished = run_batch(made.setlist, workers=1)
    assert not finished.all_well
    assert {"supply", "wire"} <= {each.kind for each in finished.outcomes[0].findings}
    made.write(["song-0.wav"], 'limit = "supply"')
    assert run_batch(made.setlist, workers=1).all_well


def test_nothing_is_looked_at_where_nobody_wants_it(season: Make) -> None:
    made = season(1)
    show = made.folder / "two.show.toml"
    show.write_text(show.read_text() + DARK)
    made.write(["song-0.wav"], 'findings = "none"')
    finished = run_batch(made.setlist, workers=1)
    assert finished.all_well
    assert finished.outcomes[0].findings == ()


def test_each_song_gets_a_page_which_is_made_once(season: Make) -> None:
    made = season(1)
    made.write(["song-0.wav"], 'pages = "pages"')
    page = made.folder / "pages" / "song-0.html"
    assert run_batch(made.setlist, workers=1).outcomes[0].page == str(page)
    first = page.read_bytes()
    assert b"Made with eavesong" in first
    page.touch()
    before = page.stat().st_mtime_ns
    assert run_batch(made.setlist, workers=1).outcomes[0].status == "up to date"
    assert page.stat().st_mtime_ns == before
    page.unlink()
    again = run_batch(made.setlist, workers=1)
    assert (again.outcomes[0].status, page.read_bytes() == first) == ("up to date", True)
    show = made.folder / "two.show.toml"
    show.write_text(show.read_text().replace("Two cues", "Another title"))
    run_batch(made.setlist, workers=1)
    assert b"Another title" in page.read_bytes()


def test_a_page_is_not_made_again_for_what_is_said_of_other_shows(season: Make) -> None:
    """Which palettes the shows of a house have decides what its wishes come to, and nothing that is on a page."""
    made = season(1)
    made.write(["song-0.wav"], 'pages = "pages"')
    show = made.folder / "two.show.toml"
    show.write_text(show.read_text().replace("Two cues", uuid.uuid4().hex))  # nobody has looked at this before
    run_batch(made.setlist, workers=1)
    page = made.folder / "pages" / "song-0.html"
    before = page.stat().st_mtime_ns
    plan = plan_batch(made.setlist)
    other, layout = replace(plan.tasks[0], palettes=("embers",)), plan.layouts[plan.tasks[0].layout]
    assert kept_look(said(other.out), other, layout) is None  # looked at anew
    look(other, layout, seen)
    assert kept_look(said(other.out), other, layout) is not None
    assert page.stat().st_mtime_ns == before


def test_a_page_that_no_batch_wrote_is_not_replaced(season: Make) -> None:
    made = season(1)
    made.write(["song-0.wav"], 'pages = "pages"')
    page = made.folder / "pages" / "song-0.html"
    page.parent.mkdir()
    page.write_text("my own page")
    finished = run_batch(made.setlist, workers=1)
    assert finished.outcomes[0].status == "failed"
    assert "is no page that a batch wrote. Give --overwrite" in finished.outcomes[0].reason
    assert page.read_text() == "my own page"
    assert (made.folder / "frames" / "song-0.h5").is_file()
    assert run_batch(made.setlist, workers=1, overwrite=True).all_well
    assert b"Made with eavesong" in page.read_bytes()


def test_what_was_said_is_kept_for_what_is_wanted(season: Make) -> None:
    made = season(1)
    show = made.folder / "two.show.toml"
    show.write_text(show.read_text().replace("Two cues", uuid.uuid4().hex))  # nobody has looked at this before
    run_batch(made.setlist, workers=1)
    plan = plan_batch(made.setlist)
    task, layout = plan.tasks[0], plan.layouts[plan.tasks[0].layout]
    assert kept_look(said(task.out), task, layout) == ()
    assert kept_look(said(task.out), replace(task, findings="limits"), layout) is None
    assert kept_look(said(task.out), replace(task, page=str(made.folder / "no.html")), layout) is None
    look(replace(task, findings="limits"), layout, seen)
    assert kept_look(said(task.out), replace(task, findings="limits"), layout) is not None


STROBE = '''
title = "Strobe"
about = "The whole house on and off six times a second."
code = """
level = step(0.5, fract(t * 6))
colour = linear_rgb(1, 1, 1)
"""
'''


def test_flashes_are_looked_for_without_being_asked_and_a_setlist_is_told_its_own_words(season: Make) -> None:
    made = season(1)
    (made.folder / "strobe.toml").write_text(STROBE)
    (made.folder / "two.show.toml").write_text('title = "Flashes"\n[[cue]]\neffect = "strobe.toml"\n')
    finished = run_batch(made.setlist, workers=1)
    (found,) = [note for note in finished.outcomes[0].findings if "flashes" in note.found]
    assert found.grave
    assert "more than three flashes in a second" in found.found
    assert "in a setlist 'soften = true'" in found.found
    made.write(["song-0.wav"], "soften = true")
    assert run_batch(made.setlist, workers=1).all_well


def test_pages_are_for_whom_the_setlist_says_and_made_again_for_others(season: Make) -> None:
    made = season(1)
    page = made.folder / "pages" / "song-0.html"
    made.write(["song-0.wav"], 'pages = "pages"\nfor = "Family Larch"\ndate = "1 December"\nwithout = "wiring"')
    run_batch(made.setlist, workers=1)
    assert b"Family Larch" in page.read_bytes()
    assert b"1 December" in page.read_bytes()
    made.write(["song-0.wav"], 'pages = "pages"\nfor = "Family Birch"')
    (outcome,) = run_batch(made.setlist, workers=1).outcomes
    assert outcome.status == "up to date"
    assert outcome.notes == ("its page was made anew",), "the same setlist may change its mind"
    assert b"Family Birch" in page.read_bytes()
    other = made.folder / "other list.toml"
    other.write_text(made.setlist.read_text().replace("Birch", "Elm"))
    for notes in (2, 0):
        (outcome,) = run_batch(other, workers=1).outcomes
        assert len(outcome.notes) == notes, "told when it is replaced, and no more"
    (outcome,) = run_batch(made.setlist, workers=1).outcomes
    assert outcome.notes[0].startswith("its page was made for the setlist 'other list.toml', and is replaced")


def photo(path: Path, colour: str) -> None:
    from PIL import Image

    Image.new("RGB", (40, 30), colour).save(path)


def test_a_page_without_its_photo_is_told_and_made_again_when_the_photo_is_there(season: Make) -> None:
    made = season(1)
    house = made.folder / "hut.toml"
    house.write_text('photo = "hut.png"\n' + house.read_text())
    made.write(["song-0.wav"], 'pages = "pages"')
    page = made.folder / "pages" / "song-0.html"
    finished = run_batch(made.setlist, workers=1)
    without = page.read_bytes()
    assert not finished.all_well
    assert "the photo 'hut.png' of season/hut.toml is not found, and its pages are without it" in batch_text(
        finished
    ).replace("\n    ", " ")
    pages = [without]
    for colour in ("navy", "maroon"):
        photo(made.folder / "hut.png", colour)
        finished = run_batch(made.setlist, workers=1)
        assert finished.all_well
        assert page.read_bytes() not in pages
        pages.append(page.read_bytes())
    before = page.stat().st_mtime_ns
    run_batch(made.setlist, workers=1)
    assert page.stat().st_mtime_ns == before
    (made.folder / "hut.png").write_text("no picture")
    assert "is no picture" in batch_text(run_batch(made.setlist, workers=1))


def test_a_page_that_finds_no_room_is_a_finding_under_its_own_name(season: Make, monkeypatch: Any) -> None:
    made = season(1)
    made.write(["song-0.wav"], 'pages = "pages"')

    def full(source: object, path: Path, **_: object) -> None:
        raise OutputError(Problem(str(path), "", "cannot be written: No space left on device"))

    with monkeypatch.context() as patch:
        patch.setattr("eavesong.preview.write_page", full)
        (outcome,) = run_batch(made.setlist, workers=1).outcomes
    assert outcome.status == "rendered"
    assert outcome.grave == (
        "its frames are whole, and its page 'song-0.html' cannot be written: No space left on device.",
    )
    assert run_batch(made.setlist, workers=1).all_well
    assert (made.folder / "pages" / "song-0.html").is_file()
