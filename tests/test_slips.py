"""Slips of the pen: TOML cannot say what was meant, and the advice can."""

import pytest

from eavesong.errors import LayoutError, Problem
from eavesong.slips import commas_in, in_order, read_tables

PAIR = 'A quotation mark is missing: every text in a list stands in a pair of them, ["arch", "path"].'
ALONE = "Write a number alone, in the units of the file:"


@pytest.mark.parametrize(
    ("text", "place", "advice"),
    [
        ("a = 1\nheight = 3,6", "line 2", "Write 3.6, with a point."),
        ("height = -3,60 # metres", "line 1", "Write -3.60, with a point."),
        ("[prop]\na = 1\n[prop]\na = 2", "line 1", "Write [[prop]], in double brackets, above every one of them."),
        ("cue = { soft = 0,05, beats = 3 }", "line 1", "Write 0.05, with a point."),
        ("at = { soft = 0,05 }", "line 1", "Write 0.05, with a point."),
        ("width = 3.6 m", "line 1", f"{ALONE} 3.6 where these are 'm'."),
        ("width = 12 ft  # feet", "line 1", f"{ALONE} 12 where these are 'ft'."),
        ("width = 3,6m", "line 1", f"{ALONE} 3.6 where these are 'm'."),
        ("title = \u201cOurs\u201d", "line 1", 'Write straight quotes, "like these"; those in the line are curly.'),
        ("width = 3'11\"", "line 1", f"{ALONE} 3.917 where these are 'ft'."),
        ("width = 12 ft 6 in  # or so", "line 1", f"{ALONE} 12.5 where these are 'ft'."),
        ("photo = house.jpg     # a photo: of ours", "line 1", 'Write text in quotes: "house.jpg".'),
        ("song = ~/Music/Midnight Snow.mp3", "line 1", 'Write text in quotes: "~/Music/Midnight Snow.mp3".'),
        ('title = "Our house', "line 1", 'A quotation mark is missing at the end: title = "Our house".'),
        (
            "points = [[0, 1], [2, 3\na = 3",
            "line 2",
            "A closing bracket is missing, in this line or in those above it.",
        ),
        (
            'tags = ["arch", "path"\n\n[[prop]]\nname = "x"\n',
            "line 3",
            "A closing bracket is missing, in this line or in those above it.",
        ),
        ('tags = ["arch, "path"]', "line 1", f"{PAIR}"),
        ('tags = ["arch", "path]', "line 1", f"{PAIR}"),
        ('tags = ["arch", path]', "line 1", 'Write every text in the list in quotes: "path".'),
        ('on = ["roofline" or "tree"]', "line 1", 'Write it as one text: "roofline or tree".'),
        ("soften = True", "line 1", "Write true, in small letters and without quotes."),
        ("soften = no  # not here", "line 1", "Write false, in small letters and without quotes."),
        ("fade_in = 2 s", "line 1", "Write { seconds = 2 }."),
        ("fade_in = 2 beats", "line 1", "Write { beats = 2 }."),
        ("fade_in = 1 bar  # or so", "line 1", "Write { bars = 1 }."),
        ("times = [0:10, 0:40]", "line 1", 'Write times on the clock in quotes: "0:10".'),
        ("from = 1:02.5", "line 1", 'Write times on the clock in quotes: "1:02.5".'),
        ("at = [3 0 -2.5]", "line 1", "Write commas between the numbers: [3, 0, -2.5]."),
        ("at = (3, 0, 2)", "line 1", "Write square brackets: [3, 0, 2]."),
        ("limit = 1500W", "line 1", 'Write a limit in quotes: "1500W".'),
        ("limit = house:30 W  # or so", "line 1", 'Write a limit in quotes: "house:30 W".'),
        ('limit = ["output:1A", house:3W]', "line 1", 'Write a limit in quotes: "house:3W".'),
        ("palette = ember", "line 1", 'Write text in quotes: "ember".'),
        ("[cue]\na = 1\n[[cue]]\na = 2", "line 1", "Write [[cue]], in double brackets, above every one of them."),
        ("[[cue]]\na = 1\n[cue]\na = 2", "line 3", "Write [[cue]], in double brackets, above every one of them."),
        ("[frame]\na = 1\n[frame]\nb = 2", "line 3", "Put the lines of both under one [frame]."),
        ("a = 1\nb = 2\na = 3", "line 3", "Keep one of them."),
        ('tags = ["roof" "ridge"]', "line 1", 'Write commas between: ["roof", "ridge"]'),
        ("at = [6.3, 3.0 0.5]", "line 1", "Write commas between: [6.3, 3.0, 0.5]"),
        ("height = .9", "line 1", "Write 0.9."),
        ("first_date = 1.12.2026", "line 1", "Write year, month and day, without quotes: 2026-12-01."),
        ("first_date = 12/24/2026", "line 1", "Write year, month and day, without quotes: 2026-12-24."),
        ('song = "C:\\Users\\me.mp3"', "line 1", 'A backslash means something else in quotes. Write "C:/Users/me.mp3"'),
        ("= 3", "line 1", ""),  # anybody's guess
    ],
)
def test_what_was_meant(text: str, place: str, advice: str) -> None:
    with pytest.raises(LayoutError) as raised:
        read_tables(text, "house.toml", LayoutError)
    (problem,) = raised.value.problems
    assert problem.place.startswith(place)
    assert problem.instead == advice


def test_of_a_file_with_several_slips_all_are_told_at_once() -> None:
    """A reader of TOML stops at the first."""
    text = "title = \u201cOurs\u201d\nnote = 'a = 3,6 m'\nheight = 3,6\nwidth = 12 ft # 3,6\nfine = 2\n"
    with pytest.raises(LayoutError) as raised:
        read_tables(text, "house.toml", LayoutError)
    assert [problem.place.partition(",")[0] for problem in raised.value.problems] == ["line 1", "line 3", "line 4"]
    assert all(problem.instead for problem in raised.value.problems)


def test_what_is_toml_is_read() -> None:
    assert read_tables("height = 3.6", "house.toml", LayoutError) == {"height": 3.6}


def test_problems_stand_in_the_order_of_their_lines_each_once() -> None:
    first, second = Problem("a", "line 2, x", "one"), Problem("a", "line 10", "two")
    whole, other = Problem("a", "", "three"), Problem("b", "line 1", "four")
    counted = Problem("a", "", "9 more problems follow", count=9)
    assert in_order([other, counted, second, first, second, whole], "a") == [whole, first, second, counted, other]


@pytest.mark.parametrize(
    ("line", "meant"),
    [
        ("at = [3,6, 2]", "[3.6, 2]"),
        ("at = [3,6, -2,5, 0]", "[3.6, -2.5, 0]"),
        ("points = [[0, 0], [0,5, 3]]  # [1,2, 3]", "[0.5, 3]"),
        ("  bars = [1,5, 9]", "[1.5, 9]"),
        ("at = [3, 6, 2]", ""),
        ("at = [3,6,2]", ""),  # as programs write it
        ("bars = [[1,5], [9,13]]", ""),
        ("at = [1,2,3, 4]", ""),
        ("at = [3.5,6, 2]", ""),
        ('about = "a list [3,6, 2]"', ""),
        ("turn = [1,2, 4]", ""),
    ],
)
def test_a_comma_for_a_point_inside_a_list_is_refused(line: str, meant: str) -> None:
    found = commas_in(f"# first\n{line}\n", "house.toml")
    assert [problem.place for problem in found] == (["line 2"] if meant else [])
    assert all(problem.instead.startswith(f"Write {meant}, with points, or [") for problem in found)


@pytest.mark.parametrize(
    ("text", "wanted", "told"),
    [
        ("[[prop]]", "show", "is a layout, where a show belongs"),
        ("[[cue]]", "layout", "is a show, where a layout belongs"),
        ("[[song]]", "layout", "is a setlist, where a layout belongs"),
        ("code = ''", "show", "is an effect, where a show belongs"),
        ("[[prop]]\n[[point]]", "layout", ""),  # may be one all the same: its own errors say more
        ("song = 'a.wav'", "show", ""),
        ("[[cue]]", "show", ""),
    ],
)
def test_a_file_of_another_kind_is_called_what_it_is(text: str, wanted: str, told: str) -> None:
    if not told:
        assert read_tables(text, "a.toml", LayoutError, wanted)
        return
    with pytest.raises(LayoutError, match=told):
        read_tables(text, "a.toml", LayoutError, wanted)
