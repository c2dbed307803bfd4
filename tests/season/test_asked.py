"""What was asked for is kept: limits and softening hold in whatever is made of frames later."""

import re
from pathlib import Path

import pytest

from eavesong.errors import ShowError
from eavesong.frames import open_frames
from eavesong.render import Order, render
from eavesong.retarget import retarget
from eavesong.scene import Reopened
from eavesong.season import plan_batch, run_batch
from eavesong.season.setlist import load_setlist
from eavesong.season.watch import outcome_line

pytestmark = pytest.mark.usefixtures("in_process")

FLASHING = """
title = "Flashes"
song = "song-0.wav"
[[cue]]
effect = "strobe.toml"
"""
STROBE = '''
title = "Strobe"
about = "The whole house on and off six times a second."
code = """
level = step(0.5, fract(t * 6))
colour = linear_rgb(1, 1, 1)
"""
'''


@pytest.fixture
def flashing(season):
    """A season of one song that flashes, and what its frames were rendered with."""
    made = season(1)
    (made.folder / "strobe.toml").write_text(STROBE)
    (made.folder / "two.show.toml").write_text(FLASHING)
    return made


def asked(made):
    return Order.of(made.folder / "two.show.toml", made.folder / "hut.toml", made.folder / "song-0.wav",
                    limit=("house:6W",), soften=True)  # fmt: skip


def frames(path):
    with open_frames(path) as file:
        return file.frames[:]


def terms(path):
    with open_frames(path) as file:
        return Reopened(file).terms


def test_a_batch_keeps_a_limit_and_a_softening_that_frames_were_made_with(flashing):
    out = flashing.folder / "frames" / "song-0.h5"
    out.parent.mkdir(exist_ok=True)
    render(asked(flashing), out)
    before = frames(out)
    assert [outcome.status for outcome in run_batch(flashing.setlist, workers=1).outcomes] == ["up to date"]
    finished = run_batch(flashing.setlist, workers=1, again=True)
    (outcome,) = finished.outcomes
    assert outcome.status == "rendered"
    assert "kept as it was asked for before: limit house:6W; softened" in outcome.notes
    assert (frames(out) == before).all()
    assert terms(out) == asked(flashing).terms


def test_a_setlist_asks_on_the_terms_of_orders_and_alone_lifts_them(flashing):
    out = flashing.folder / "frames" / "song-0.h5"
    heading = 'limit = "house:6W"\nsoften = true\n'
    listed = flashing.setlist.read_text()
    flashing.setlist.write_text(heading + listed)
    run_batch(flashing.setlist, workers=1)
    dimmed = frames(out)
    assert terms(out) == asked(flashing).terms
    flashing.setlist.write_text("limit = []\nsoften = false\n" + listed)
    (outcome,) = run_batch(flashing.setlist, workers=1).outcomes
    assert "asked for: limit house:6W, now no limit" in outcome.reason
    assert frames(out).max() == 255 > dimmed.max()


def test_every_term_can_be_asked_of_a_song(flashing):
    flashing.setlist.write_text(
        flashing.setlist.read_text().replace(
            "[[song]]", '[[song]]\nframe_rate = 25\nfrom = 0.4\nto = 1.2\nprops = ["arch"]\nsoften = true', 1
        )
    )
    (song,) = load_setlist(flashing.setlist).songs
    (task,) = plan_batch(flashing.setlist).tasks
    assert song.said() == {"frame_rate": 25.0, "start": 0.4, "stop": 1.2, "props": ("arch",), "soften": True}
    assert (task.order.frame_rate, task.order.start, task.order.props) == (25.0, 0.4, ("arch",))
    run_batch(flashing.setlist, workers=1)
    with open_frames(task.out) as file:
        assert (file.frame_rate, file.frame_count, file.start) == (25.0, 20, 0.4)


def test_a_limit_that_is_none_is_refused_in_its_place(flashing):
    flashing.setlist.write_text('limit = "hose:1W"\n' + flashing.setlist.read_text())
    with pytest.raises(ShowError, match=r"line 1, limit: 'hose:1W' is no limit\n    Write \"house:1W\"\."):
        load_setlist(flashing.setlist)


@pytest.mark.parametrize("given", [True, False])
def test_retargeting_keeps_them_too(flashing, tmp_path: Path, given: bool):
    """Of the old frames where they are given, else of those that are there under the new name."""
    old = flashing.folder / "old.h5"
    render(asked(flashing), old)
    new = flashing.folder / "new.toml"
    new.write_text((flashing.folder / "hut.toml").read_text().replace("pixels = 60", "pixels = 50"))
    out = old if not given else tmp_path / "new.h5"
    done = retarget(
        flashing.folder / "two.show.toml", flashing.folder / "hut.toml", new, out, frames=old if given else None,
        song=flashing.folder / "song-0.wav",
    )  # fmt: skip
    assert done.rendered is not None
    assert "kept as it was asked for before: limit house:6W; softened" in done.rendered.notes
    full = tmp_path / "full.h5"
    order = asked(flashing)
    render(Order.of(order.show, new, order.song, limit=order.limit, soften=True), full)
    assert (frames(out) == frames(full)).all()


def test_frames_made_before_orders_were_written_are_made_anew(flashing):
    """An old file says only that it is no plain one: it is rendered in full, and that is said."""
    out = flashing.folder / "frames" / "song-0.h5"
    out.parent.mkdir(exist_ok=True)
    data = Path(__file__).parents[1] / "frames" / "data" / "first-dimmed.h5"
    out.write_bytes(data.read_bytes())
    (outcome,) = run_batch(flashing.setlist, workers=1).outcomes
    assert "an older eavesong made it, which did not say what was asked for" in outcome.reason


def test_each_house_keeps_its_limit_and_one_that_was_renamed_is_asked_after(flashing):
    """The folder of a house is called after it, so under another name nothing is found that could be kept."""
    house = flashing.folder / "hut.toml"
    for name in ("hut-2026.toml", "barn.toml"):
        (flashing.folder / name).write_text(house.read_text())
    head = 'show = "two.show.toml"\nfrom = 0\nto = 1\n'
    song = '[[song]]\nsong = "song-0.wav"\n'
    flashing.setlist.write_text(
        f'{head}[[house]]\nlayout = "hut-2026.toml"\nlimit = "house:6W"\n'
        f'[[house]]\nlayout = "barn.toml"\nlimit = []\n{song}'
    )
    run_batch(flashing.setlist, workers=1)
    assert terms(flashing.folder / "hut-2026" / "song-0.h5").limit == ("house:6W",)
    assert terms(flashing.folder / "barn" / "song-0.h5").limit == ()
    new = head + 'layout = ["hut.toml", "barn.toml"]\n' + song
    flashing.setlist.write_text(new)
    warned = "perhaps forgotten: those in 'hut-2026' are on the terms limit house:6W, and nothing is said here"
    for status in ("rendered", "up to date"):
        hut, barn = run_batch(flashing.setlist, workers=1).outcomes
        assert (hut.status, barn.status) == (status, "up to date")
        assert any(note.startswith(warned) and "limit = []" in note for note in hut.notes)
        assert warned in outcome_line(hut)
    flashing.setlist.write_text("limit = []\n" + new)
    assert not any(outcome.notes for outcome in run_batch(flashing.setlist, workers=1).outcomes)


def test_a_house_with_another_title_is_asked_after_once(flashing):
    """Next year's, in a file and by a title of its own, with the same props; a house of other props is another one."""
    house = (flashing.folder / "hut.toml").read_text()
    title = re.search(r'^title = "(.*)"$', house, re.M)[1]
    (flashing.folder / "hut-2027.toml").write_text(house.replace(title, f"{title}, 2027"))
    barn = re.sub(r'^name = "(.*)"$', r'name = "barn \1"', house, flags=re.M).replace(title, "Barn")
    (flashing.folder / "barn.toml").write_text(barn)
    head = 'show = "two.show.toml"\nfrom = 0\nto = 1\n'
    song = '[[song]]\nsong = "song-0.wav"\n'
    flashing.setlist.write_text(f'{head}[[house]]\nlayout = "hut.toml"\nlimit = "house:6W"\n{song}')
    run_batch(flashing.setlist, workers=1)
    flashing.setlist.write_text(f'{head}[[house]]\nlayout = "hut-2027.toml"\n[[house]]\nlayout = "barn.toml"\n{song}')
    renamed, barn = run_batch(flashing.setlist, workers=1).outcomes
    assert [note.split(":")[0] for note in renamed.notes] == ["perhaps forgotten"]
    assert barn.notes == ()
    assert not any(outcome.notes for outcome in run_batch(flashing.setlist, workers=1).outcomes)


@pytest.mark.parametrize("folder", ["frames-2027", "frames/2027"])
def test_a_new_setlist_with_a_folder_of_its_own_is_asked_for_the_terms_of_last_year(flashing, folder):
    """Its frames lie beside those that were limited, or below them; once it has said what it wants, nothing is said."""
    head, song = 'show = "two.show.toml"\nfrom = 0\nto = 1\nlayout = "hut.toml"\n', '[[song]]\nsong = "song-0.wav"\n'
    flashing.setlist.write_text(f'{head}frames = "frames"\nlimit = "house:6W"\n{song}')
    run_batch(flashing.setlist, workers=1)
    later = flashing.folder / "season-2027.toml"
    later.write_text(f'{head}frames = "{folder}"\n{song}')
    (outcome,) = run_batch(later, workers=1).outcomes
    assert [note.split(":")[0] for note in outcome.notes] == ["perhaps forgotten"]
    later.write_text(f'{head}frames = "{folder}"\nlimit = []\n{song}')
    (outcome,) = run_batch(later, workers=1).outcomes
    assert outcome.notes == ()


def test_a_house_of_the_same_setlist_is_none_that_was_renamed(flashing):
    """One is limited, the other is not and never was: nobody forgot anything, however often it is run."""
    (flashing.folder / "barn.toml").write_text((flashing.folder / "hut.toml").read_text())
    flashing.setlist.write_text(
        'show = "two.show.toml"\nfrom = 0\nto = 1\n[[house]]\nlayout = "hut.toml"\nlimit = "house:6W"\n'
        '[[house]]\nlayout = "barn.toml"\n[[song]]\nsong = "song-0.wav"\n'
    )
    for status in ("rendered", "up to date"):
        _, barn = run_batch(flashing.setlist, workers=1).outcomes
        assert (barn.status, barn.notes) == (status, ())


def test_what_is_kept_is_told_each_time(flashing):
    out = flashing.folder / "frames" / "song-0.h5"
    out.parent.mkdir(exist_ok=True)
    render(asked(flashing), out)
    (outcome,) = run_batch(flashing.setlist, workers=1).outcomes
    assert outcome.status == "up to date"
    assert "kept as it was asked for before: limit house:6W; softened" in outcome_line(outcome)


def test_houses_of_one_name_go_by_their_folders(flashing):
    """Three files called house.toml, one of them beside the setlist."""
    for folder in ("mill", "high", "."):
        (flashing.folder / folder).mkdir(exist_ok=True)
        (flashing.folder / folder / "house.toml").write_text((flashing.folder / "hut.toml").read_text())
    layouts = 'layout = ["house.toml", "mill/house.toml", "high/house.toml"]\n'
    flashing.setlist.write_text(f'show = "two.show.toml"\n{layouts}[[song]]\nsong = "song-0.wav"\n')
    plan = plan_batch(flashing.setlist)
    assert [Path(task.out).parent.name for task in plan.tasks] == ["house", "mill", "high"]
    assert [task.name for task in plan.tasks] == ["song-0, house", "song-0, mill", "song-0, high"]
    deeper = layouts.replace("high/", "old/mill/")
    (flashing.folder / "old" / "mill").mkdir(parents=True)
    (flashing.folder / "high" / "house.toml").rename(flashing.folder / "old" / "mill" / "house.toml")
    flashing.setlist.write_text(flashing.setlist.read_text().replace(layouts, deeper))
    with pytest.raises(ShowError, match=r"Name the houses apart: below a \[\[house\]\] with its 'layout', write name"):
        plan_batch(flashing.setlist)
