"""The show's text for another copy: what changes, and that nothing else does."""

import tomllib
from dataclasses import replace

import pytest

from copies import CUT, WHOLE, aligned, made_grid
from eavesong.exchange.cues import moved_cues, with_song
from eavesong.exchange.place import Carried, placed_grid
from eavesong.language import parse_effect
from eavesong.music import BeatGrid
from eavesong.show import load_show

SHOW = """# My show.
title = "Mine"
song = "one.wav"   # from the attic
beats = "one.beats"
sections = [
]

[palettes]
ours = ["red", "gold"]

[[cue]]
name = "Early"
effect = "plain"
bars = [1, 5]   # the intro

# The middle.
[[cue]]
effect = "plain"
bars = [
  [3, 7],   # before
  [17, 21],
]
[cue.parameters]
width = 0.5

# What is cut.
[[cue]]
name = "Gone"
effect = "plain"
bars = [10, 14]

[[cue]]
effect = "plain"
sections = "part 2"

[[cue]]
name = "By the clock"
effect = "plain"
times = ["0:40", "0:44.5"]
"""


def bars(found):
    grid = made_grid()
    return Carried(grid, placed_grid(grid, found), found)


def test_the_same_copy_keeps_every_letter():
    moved = moved_cues(SHOW, bars(WHOLE))
    assert (moved.text, moved.changed, moved.gone) == (SHOW, (), ())


def test_a_cut_moves_what_follows_and_comments_out_what_is_gone():
    moved = moved_cues(SHOW, bars(CUT))
    cues = tomllib.loads(moved.text)["cue"]
    assert [cue.get("bars") or cue.get("times") or cue.get("sections") for cue in cues] == [
        [1, 5], [[3, 7], [9, 13]], "part 2", [24, 28.5],
    ]  # fmt: skip
    assert cues[1]["parameters"] == {"width": 0.5}
    assert moved.gone == ("cue 3 'Gone'",)
    assert moved.changed == ("cue 2 (plain)", "cue 4 'By the clock'")  # the fifth, in a text with one less
    for kept in ("# My show.", "bars = [1, 5]   # the intro", "# The middle.", "# bars = [10, 14]", "# What is cut."):
        assert kept in moved.text


def test_what_reaches_over_the_ends_of_the_song_is_not_moved():
    over = SHOW.replace("bars = [1, 5]", "bars = [-1, 5]").replace("[17, 21],", "[17, 90],")
    moved = moved_cues(over, bars(WHOLE))
    assert (moved.text, moved.changed) == (over, ())


def test_in_a_copy_that_begins_a_second_later_whole_bars_stay_to_the_letter():
    """Also where a cue reaches to the ends of the song, which is over 0.13 s before bar 31 would begin."""
    over = SHOW.replace("bars = [1, 5]", "bars = [-1, 5]").replace("[3, 7],", "[-1, 7],").replace("21],", "31],")
    moved = moved_cues(over, bars(aligned((0, 1, None), (1, 61.07, 1.0), seconds=60.07)))
    assert moved.text == over.replace('times = ["0:40", "0:44.5"]', "times = [41, 45.5]")
    assert moved.changed == ("cue 5 'By the clock'",)


EVERY = SHOW.replace("bars = [1, 5]   # the intro", "bars = [4, 5]\nevery = {}")


def test_what_comes_every_few_bars_stays_where_the_copy_keeps_to_them():
    """Eight bars are cut out: the fourth of every four is the fourth there, too; the third of every three is not."""
    assert moved_cues(EVERY.format(4), bars(CUT)).text.count("bars = [4, 5]\nevery = 4") == 1
    moved = moved_cues(EVERY.format(3), bars(CUT))
    first = tomllib.loads(moved.text)["cue"][0]
    assert "every" not in first
    assert first["bars"] == [[4, 5], [7, 8], [11, 12], [14, 15], [17, 18], [20, 21]]
    assert moved.changed[0] == "cue 1 'Early'"


def test_what_comes_every_few_bars_goes_on_where_its_first_time_is_cut_off():
    """The copy begins with bar 6: bars 8, 12 and so on are its 3, 7, …"""
    moved = moved_cues(EVERY.format(4), bars(aligned((0, 49.8, -10.2))))
    first = tomllib.loads(moved.text)["cue"][0]
    assert (first["bars"], first["every"]) == ([3, 4], 4)
    assert "cue 1 'Early'" not in moved.gone


def test_a_cue_by_the_clock_that_comes_again_is_where_the_music_is():
    """What is lit from 12 to 14 s and every ten seconds after it, of which those from 16.2 to 32.2 are cut out."""
    text = SHOW.replace("bars = [1, 5]   # the intro", "times = [12, 14]\nevery = 10")
    first = tomllib.loads(moved_cues(text, bars(CUT)).text)["cue"][0]
    assert "every" not in first
    assert first["times"] == [[12, 14], pytest.approx([16.2, 18], abs=0.05), [26, 28], [36, 38]]


@pytest.mark.parametrize(
    ("more", "now"),
    [("", [1, 5]), ("fade_in = 2", [-3, 5]), ("# runs", [-3, 5]), ("fade_out = 2", [1, 5])],
)
def test_what_runs_through_a_span_whose_beginning_is_cut_off_has_begun_before(made, more, now):
    """Four bars of eight are cut off: a fade is over, and a ramp is half through."""
    text = f"[[cue]]\neffect = 'plain'\nbars = [3, 11]\n{more}\n"
    moved = moved_cues(text, bars(aligned((0, 47.8, -12.2))), made(text))
    assert tomllib.loads(moved.text)["cue"][0]["bars"] == now


def test_nothing_begins_before_a_copy_that_has_its_beginning_elsewhere(made):
    """The copy begins with the song's last 16 s, and has all of it after them: the fade-in is where it was."""
    text = "[[cue]]\neffect = 'plain'\nbars = [1, 5]\nfade_in = 2\n"
    moved = moved_cues(text, bars(aligned((0, 16, -44.0), (16, 76, 16.0))), made(text))
    assert tomllib.loads(moved.text)["cue"][0]["bars"] == pytest.approx([9, 13], abs=0.05)


def test_what_follows_itself_without_a_break_is_a_show_that_can_be_read(made):
    """From 9 to 12 s and every three seconds, in a copy that lacks 1.28 s: 10.72 - 7.72 is a little more than three."""
    text = "[[cue]]\neffect = 'plain'\ntimes = [9, 12]\nevery = 3\n"
    moved = moved_cues(text, bars(aligned((0, 58.72, -1.28))), made(text))
    assert made(moved.text).cues[0].every == 3


def test_flashes_are_carried_and_what_comes_too_often_to_be_written_is_told(made):
    """A twentieth of a second every quarter: 240 in a minute, of which a copy without eight bars is written; a thousand
    are not."""
    text = "[[cue]]\neffect = 'plain'\ntimes = [9, 9.05]\n"
    moved = moved_cues(text, bars(aligned((0, 58.72, -1.28))), made(text))
    assert tomllib.loads(moved.text)["cue"][0]["times"] == [7.72, 7.77]
    text += "every = 0.3\n"
    assert moved_cues(text, bars(CUT), made(text)).gone == ()
    grid = made_grid(400.0)
    found = aligned((0, 16.2, 0.0), (16.2, 384, -16.1), seconds=400.0)
    moved = moved_cues(text, Carried(grid, placed_grid(grid, found), found), made(text))
    assert moved.often == ("cue 1 (plain)",)
    assert made(moved.text).cues[0].every == 0.3
    twice = text.replace("[9, 9.05]", "[[9, 9.05], [9.1, 9.15]]")
    moved = moved_cues(twice, Carried(grid, placed_grid(grid, found), found), made(twice))
    assert [each[0] for each in made(moved.text).cues[0].times] == pytest.approx([9, 9.1])


@pytest.mark.parametrize(("turn", "told"), [("2", True), ("'last'", False), ("[1, 2, 3, 4]", False)])
def test_a_turn_that_is_another_part_of_the_music_now_is_told(made, turn, told):
    """Parts of 16 s, all called verse; the first is cut off."""
    grid = replace(made_grid(), sections=tuple(replace(each, label="verse") for each in made_grid().sections))
    found = aligned((0, 43.8, -16.2))
    text = f"[[cue]]\neffect = 'plain'\nsections = 'verse'\nturn = {turn}\n"
    moved = moved_cues(text, Carried(grid, placed_grid(grid, found), found), made(text))
    assert moved.text == text
    assert moved.others == (("cue 1 (plain) (lit 0:16 to 0:32; what was meant is 0:00 to 0:16)",) if told else ())


@pytest.fixture
def made(tmp_path):
    """Reads a show with an effect that runs through its cue's span where the text says so."""

    def from_text(text):
        level = "cue_progress" if "runs" in text else "1"
        code = f"title = 'Plain'\nabout = 'Light.'\ncode = '''\nlevel = {level}\ncolour = rgb(1, 1, 1)\n'''\n"
        (tmp_path / "a.show.toml").write_text(text)
        return load_show(
            tmp_path / "a.show.toml", load=lambda name, _: parse_effect(code, name, f"{name}.toml"), names=["plain"]
        )

    return from_text


def test_what_is_lit_before_the_first_bar_is_so_in_a_copy_that_begins_a_second_later():
    """Bar 1 begins with the song, at 0.02 s; what leads up to it had next to no time there, and has a second here."""
    grid = BeatGrid(tuple(0.02 + n / 2 for n in range(160)), (1, 2, 3, 4) * 40, (), 80.02)
    copy = BeatGrid(tuple(1.02 + n / 2 for n in range(160)), (1, 2, 3, 4) * 40, (), 81.02)
    there = Carried(grid, copy, aligned((0, 1, None), (1, 81.02, 1.0), seconds=80.02))
    text = SHOW.replace("bars = [1, 5]", "bars = [0, 1]")
    moved = moved_cues(text, there)
    assert moved.gone == ()
    assert tomllib.loads(moved.text)["cue"][0]["bars"] == [0, 1]


def test_no_cue_begins_before_a_copy_that_begins_later_in_the_music():
    """The song has 4.2 s before bar 1, and a cue begins with it, in bar -2; its copy has 0.2 s, the last of bar 0."""
    grid = BeatGrid(tuple(4.2 + n / 2 for n in range(160)), (1, 2, 3, 4) * 40, (), 84.2)
    copy = BeatGrid(tuple(0.2 + n / 2 for n in range(160)), (1, 2, 3, 4) * 40, (), 80.2)
    there = Carried(grid, copy, aligned((0, 80.2, -4.0), seconds=84.2))
    for start, now in ((-2, 0), (-9, -9)):
        text = SHOW.replace("bars = [1, 5]", f"bars = [{start}, 5]")
        assert tomllib.loads(moved_cues(text, there).text)["cue"][0]["bars"] == [now, 5]


def test_no_cue_ends_after_a_copy_whose_first_bar_is_cut_off():
    """Bars of two seconds; what reached to the song's end, whose last bar is begun, reaches to the copy's."""
    grid = BeatGrid(tuple(0.2 + n / 2 for n in range(158)), (1, 2, 3, 4) * 39 + (1, 2), (), 79.2)
    copy = BeatGrid(tuple(0.2 + n / 2 for n in range(154)), (1, 2, 3, 4) * 38 + (1, 2), (), 77.2)
    there = Carried(grid, copy, aligned((0, 77.2, -2.0), seconds=79.2))
    for end, now in ((41, 40), (60, 60)):
        text = SHOW.replace("bars = [1, 5]", f"bars = [30, {end}]")
        assert tomllib.loads(moved_cues(text, there).text)["cue"][0]["bars"] == [29, now]


def test_where_sections_began_goes_along():
    """Bars of two seconds from 0.2 s on, of which those from 16.2 to 32.2 s are cut out."""
    began = "bars_began = [[1, 0.2], [11, 20.2],\n  [17, 32.2]]\n"
    moved = moved_cues(began + SHOW, bars(CUT))
    assert tomllib.loads(moved.text)["bars_began"] == [[1, 0.2], [9, 16.2]]
    named = moved_cues(began.replace("0.2],", '0.2, "A"],').replace("32.2]", '32.2, "Ré \\"1\\""]') + SHOW, bars(CUT))
    assert tomllib.loads(named.text)["bars_began"] == [[1, 0.2, "A"], [9, 16.2, 'Ré "1"']]
    assert moved_cues(began + SHOW, bars(WHOLE)).text == began + SHOW


def test_where_the_last_section_ended_goes_along():
    """With the bar after the song's last, which begins 20 s later in the copy; cut before, it ends where that does."""
    later = bars(aligned((0, 84, 20.0)))
    end = later.grid.last_line + 1
    began = f"bars_began = [[1, 0.2, 'A'], [11, 20.2, 'B'], [{end}, {later.grid.time_of_bar(end - 1):.2f}]]\n"
    told = tomllib.loads(moved_cues(began + SHOW, later).text)["bars_began"]
    assert [each[1] for each in told] == [20.2, 40.2, round(later.grid.time_of_bar(end - 1) + 20, 2)]
    cut = tomllib.loads(moved_cues(began + SHOW, bars(aligned((0, 40.2, 0.0), seconds=84))).text)["bars_began"]
    assert [each[1] for each in cut] == [0.2, 20.2, 40.2]


def test_sections_that_come_once_more_in_the_copy_began_as_it_was_written():
    """The song's second 16 to 40 seconds come again; whoever unpacks it has changed nothing."""
    there = bars(aligned((0, 40.2, 0.0), (40.2, 64.2, 24.0), (64.2, 84, 24.0)))
    bars_there = [max(1.0, float(there.grid.musical_time(each.start).bar[0]) + 1) for each in there.grid.sections]
    pairs = ", ".join(f"[{bar:g}, {there.grid.time_of_bar(bar - 1):.2f}]" for bar in bars_there)
    began = f"bars_began = [{pairs}]\n"
    told = tomllib.loads(moved_cues(began + SHOW, there).text)["bars_began"]
    assert len(there.copy.sections) > len(there.grid.sections)
    for section in there.copy.sections:
        assert any(abs(max(section.start, 0.2) - second) < 0.02 for _, second in told), section
    assert [bar for bar, _ in told] == sorted(bar for bar, _ in told)


def test_a_bar_that_begins_before_the_copy_does_is_none_that_a_section_began_with():
    """2.28 s are cut off the beginning: bar 2 began at 2.2 s, and is in the copy but for its first 0.08 s."""
    began = "bars_began = [[1, 0.2], [2, 2.2], [11, 20.2]]\n"
    moved = moved_cues(began + SHOW, bars(aligned((0, 57.7, -2.28))))
    told = tomllib.loads(moved.text)["bars_began"]
    assert all(second >= 0 for _, second in told)
    assert told[-1][1] == 17.92


def test_the_song_is_the_persons_own():
    tables = tomllib.loads(with_song(SHOW, 'mine "live".mp3'))
    assert tables["song"] == 'mine "live".mp3'
    assert "beats" not in tables
    assert "sections" not in tables
    assert tables["palettes"] == {"ours": ["red", "gold"]}


def test_a_show_that_named_no_song():
    assert tomllib.loads(with_song('[[cue]]\neffect = "plain"\n', "a.wav"))["song"] == "a.wav"
    assert tomllib.loads(with_song('title = "A"\n[[cue]]\neffect = "plain"\n', "a.wav"))["song"] == "a.wav"
