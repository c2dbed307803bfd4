"""What a check reports: nothing goes dark silently."""

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from eavesong.check import Report, check, report_text
from eavesong.layout import Layout
from eavesong.music import BeatGrid, Section
from eavesong.scene import set_scene
from eavesong.show import Show, load_show

Check = Callable[[str], Report]

LIT = "[[cue]]\neffect = 'wash'\n"
"""A cue that lights everything all the time, so that other findings stand alone."""


@pytest.fixture
def checked(read: Callable[[str], Show], house: Layout, grid: BeatGrid) -> Check:
    """Checks a show text on the test house."""
    return lambda text: check(set_scene(read(text), house, grid))


def findings(report: Report) -> list[str]:
    return [
        f"{finding.place}: {finding.found} | {finding.instead}" if finding.place else f"{finding.found}"
        for finding in report.findings
    ]


def test_a_show_with_everything_lit_has_no_findings(checked: Check) -> None:
    report = checked(LIT)
    assert report.findings == ()
    assert (report.prop_count, report.pixel_count, report.bar_count, report.duration) == (6, 300, 16, 32)


def test_what_begins_before_the_first_bar_begins_at_the_start(
    read: Callable[[str], Show], house: Layout, grid_at: Callable[..., BeatGrid]
) -> None:
    report = check(set_scene(read(LIT), house, grid_at(pickup=1)))
    assert [str(span) for span in report.cues[0].spans] == ["the pick-up to bar 17 (0:00.00 to 0:32.50)"]


def test_a_cue_that_begins_with_bar_0_begins_at_the_start(
    read: Callable[[str], Show], house: Layout, grid_at: Callable[..., BeatGrid], grid: BeatGrid
) -> None:
    """With a pick-up shorter than a bar, and with a first beat that comes 5 ms after the song begins."""
    text = "[[cue]]\neffect = 'wash'\nbars = [0, 17]\n"
    (cue,) = check(set_scene(read(text), house, grid_at(pickup=1))).cues
    assert [str(span) for span in cue.spans] == ["the pick-up to bar 17 (0:00.00 to 0:32.50)"]
    breath = replace(grid, times=tuple(time + 0.005 for time in grid.times))
    report = check(set_scene(read(text), house, breath))
    assert str(report.cues[0].spans[0]).startswith("bars 1 to 17 (0:00.00")
    assert findings(report) == []
    later = replace(grid, times=tuple(time + 0.015 for time in grid.times))
    (cue,) = check(set_scene(read(text.replace("0, 17", "1, 17")), house, later)).cues
    assert str(cue.spans[0]).startswith("bars 1 to 17 (0:00.00")


def test_what_a_cue_lights(checked: Check) -> None:
    cue = checked("[[cue]]\neffect = 'wash'\nname = 'Paths'\non = ['pond', 'path or tree']\nbars = [1, 9]\n").cues[0]
    assert (cue.number, cue.name, cue.effect) == (1, "Paths", "wash")
    assert (cue.selector, cue.choice, cue.choices) == ("path or tree", 2, 2)
    assert cue.props == ("arch (all 3)", "old oak")
    assert (cue.pixels, cue.share) == (100, pytest.approx(1 / 3))
    assert [str(span) for span in cue.spans] == ["bars 1 to 9 (0:00.00 to 0:16.00)"]


@pytest.mark.parametrize(
    ("keys", "finding"),
    [
        (
            "on = 'archs'",
            "line 5, cue 2, on: the cue lights nothing: no prop here matches \"archs\" | Did you mean 'arch'?",
        ),
        (
            "on = ['pond', 'archs']",
            'line 5, cue 2, on: the cue lights nothing: no prop here matches "pond" or "archs" | Known names: arch, ',
        ),
        (
            "on = 'ridge tree'",
            'line 5, cue 2, on: the cue lights nothing: no prop here matches "ridge tree" | '
            "Write 'ridge or tree' for all of them, or 'ridge and tree' for what is both.",
        ),
        (
            "on = 'ridge and tree'",
            'line 5, cue 2, on: the cue lights nothing: no prop here matches "ridge and tree" | '
            "Write 'or' where either will do.",
        ),
        (
            "on = 'ridge'\nwithin = { y = [0, 0.5] }",
            "line 5, cue 2, on: the cue lights nothing: no pixel of \"ridge\" lies within its box | Widen 'within'",
        ),
        (
            "on = 'ridge or archs'",
            "line 5, cue 2, on: no prop here has the tag or name 'archs' | Did you mean 'arch'?",
        ),
        (
            "sections = ['verse', 'chrous']",
            "line 5, cue 2, sections: no section of the song is called 'chrous' | Did you mean 'Chorus'?",
        ),
        (
            "sections = 'bridge'",
            "line 5, cue 2, sections: no section of the song is called 'bridge' | Known sections: Chorus, verse.",
        ),
        (
            "kinds = ['build', 'high']",
            "line 5, cue 2, kinds: no section of the song is of the kind build or high | "
            "Write kinds behind the labels in its sections text.",
        ),
        (
            "sections = 'bridge'\nkinds = 'break'",
            "line 6, cue 2, kinds: no section of the song is of the kind break",
        ),
        (
            "sections = ['verse', 'chrous']\nkinds = 'break'",  # a verse is there, so the labels count
            "line 5, cue 2, sections: no section of the song is called 'chrous'",
        ),
        (
            "sections = 'chorus'\nturn = 2",
            "line 6, cue 2, turn: what the cue is tied to comes once in this song, and never that turn | "
            "Write 'last', or, where another section is meant, its label: verse.",
        ),
        (
            "sections = ['verse', 'chorus']\nturn = [1, 2]",
            "line 6, cue 2, turn: none of what the cue is tied to comes more than once, and so turn 2 never | "
            "Take it out, or write 'last'.",
        ),
        (
            "sections = 'chorus'\nturn = [1, 3]",
            "line 6, cue 2, turn: what the cue is tied to comes once in this song, and turn 3 of it never | "
            "Take it out, or write 'last'.",
        ),
        (
            "bars = [18, 20]",
            "line 5, cue 2, bars: bars 18 to 20 (0:34.00 to 0:38.00) begin after the song | "
            "Write earlier ones: the song lasts until bar 17 (0:32.00).",
        ),
        (
            "beats = [61, 69]",
            "line 5, cue 2, beats: bars 16 to 18 (0:30.00 to 0:34.00) end after the song | "
            "Write an earlier end: the song lasts until bar 17 (0:32.00).",
        ),
        (
            "bars = [0, 2]",
            "line 5, cue 2, bars: bars 0 to 2 (-0:02.00 to 0:02.00) begin before the song | "
            "Count bars and beats from 1, seconds from 0.",
        ),
        (
            "opacity = 0",
            "line 5, cue 2, opacity: the cue is never seen at opacity 0 | Write a larger one, or delete the cue.",
        ),
        (
            "palette = 'ember'",
            "line 5, cue 2, palette: the effect 'glow' takes no colours from a palette, so this changes nothing | "
            "Delete the line, or choose another effect.",
        ),
    ],
)
def test_one_finding(checked: Check, keys: str, finding: str) -> None:
    effect = "glow" if "the effect 'glow'" in finding else "wash"
    (only,) = findings(checked(f"{LIT}[[cue]]\neffect = '{effect}'\n{keys}\n"))
    assert only.startswith(finding)


@pytest.mark.parametrize(
    "keys",
    [
        "on = ['pond', 'tree']",  # a choice passed over is what fall-backs are for
        "bars = [1, 17]",  # up to the very end
        "bars = [16, 16.5]\nevery = 0.75",  # repeated until the song ends
        "palette = 'ember'",
        "sections = 'CHORUS'",
    ],
)
def test_no_finding(checked: Check, keys: str) -> None:
    assert findings(checked(f"{LIT}[[cue]]\neffect = 'wash'\n{keys}\n")) == []


def test_a_cue_may_begin_with_the_pickup_though_the_song_begins_inside_it(
    grid: BeatGrid, house: Layout, read: Callable[[str], Show]
) -> None:
    positions = tuple((n + 2) % 4 + 1 for n in range(len(grid.times)))  # two beats before the first downbeat
    pickup = BeatGrid(grid.times, positions, (), grid.duration)
    text = f"{LIT}[[cue]]\neffect = 'wash'\nbars = [{{}}, 3]\n"
    assert findings(check(set_scene(read(text.format(0)), house, pickup))) == []
    (only,) = findings(check(set_scene(read(text.format(-1)), house, pickup)))
    assert "begin before the song" in only


def test_a_cue_may_begin_with_the_bar_that_the_song_begins_in_after_a_silence(
    grid: BeatGrid, house: Layout, read: Callable[[str], Show]
) -> None:
    """Bars of two seconds, the first at 3 s: the song begins inside the second bar before it, which is bar -1."""
    late = BeatGrid(tuple(time + 3 for time in grid.times), grid.positions, (), grid.duration + 3)
    text = f"{LIT}[[cue]]\neffect = 'wash'\nbars = [{{}}, 3]\n"
    assert findings(check(set_scene(read(text.format(-1)), house, late))) == []
    (only,) = findings(check(set_scene(read(text.format(-2)), house, late)))
    assert "begin before the song" in only


def test_a_cue_may_end_with_the_bar_that_the_song_ends_in(
    grid: BeatGrid, house: Layout, read: Callable[[str], Show]
) -> None:
    """Whose downbeat was not heard: 16 bars of two seconds are, from 0 s on, and the song lasts for 32.9 s."""
    longer = BeatGrid(grid.times, grid.positions, (), 32.9)
    assert longer.bar_count == 16
    text = f"{LIT}[[cue]]\neffect = 'wash'\nbars = [3, {{}}]\n"
    assert findings(check(set_scene(read(text.format(18)), house, longer))) == []
    (only,) = findings(check(set_scene(read(text.format(18.5)), house, longer)))
    assert "end after the song" in only


def test_props_that_no_cue_lights_are_named(checked: Check) -> None:
    report = checked("[[cue]]\neffect = 'wash'\non = \"roofline or 'arch 2'\"\n")
    assert report.dark_props == ("arch 1", "arch 3", "old oak")
    assert findings(report) == ["no cue lights arch 1, arch 3, old oak"]
    assert findings(checked("[[cue]]\neffect = 'wash'\non = 'not path'\n")) == ["no cue lights arch (all 3)"]


def test_kinds_stand_in_for_labels_that_the_song_has_not_got(
    grid: BeatGrid, house: Layout, read: Callable[[str], Show]
) -> None:
    sections = (Section(0, 16, "A", "steady"), Section(16, 32, "B", "high"))
    heard = BeatGrid(grid.times, grid.positions, sections, grid.duration)
    keys = "sections = ['chorus', 'solo']\nkinds = ['high', 'build']"
    assert findings(check(set_scene(read(f"{LIT}[[cue]]\neffect = 'wash'\n{keys}\n"), house, heard))) == []
    (only,) = findings(check(set_scene(read(f"{LIT}[[cue]]\neffect = 'wash'\nkinds = 'quiet'\n"), house, heard)))
    assert only.endswith("no section of the song is of the kind quiet | The song has these: steady, high.")


@pytest.mark.parametrize("keys", ["opacity = 0", "bars = [40, 44]", "sections = 'bridge'", "kinds = 'high'"])
def test_a_cue_that_is_never_seen_lights_no_prop(checked: Check, keys: str) -> None:
    assert len(checked(f"[[cue]]\neffect = 'wash'\n{keys}\n").dark_props) == 6


def test_stretches_of_darkness(checked: Check) -> None:
    report = checked("[[cue]]\neffect = 'wash'\nbars = [[2, 5], [9, 16]]\n[[cue]]\neffect = 'wash'\nbars = [4, 7]\n")
    assert findings(report) == [
        "nothing is lit in bars 1 to 2 (0:00.00 to 0:02.00)",
        "nothing is lit in bars 7 to 9 (0:12.00 to 0:16.00)",
        "nothing is lit in bars 16 to 17 (0:30.00 to 0:32.00)",
    ]


def test_darkness_outside_of_what_is_asked_for_is_not_told(
    read: Callable[[str], Show], house: Layout, grid: BeatGrid
) -> None:
    """A part of the song, rendered by itself: what lies before and behind it is not its matter."""
    show = read("[[cue]]\neffect = 'wash'\nbars = [2, 5]\n")
    assert findings(check(set_scene(show, house, grid, start=2, stop=8))) == []
    part = check(set_scene(show, house, grid, start=2, stop=9))
    assert findings(part) == ["nothing is lit in bars 5 to 5.5 (0:08.00 to 0:09.00)"]


def test_many_stretches_of_darkness_are_summed_up(checked: Check) -> None:
    report = checked("[[cue]]\neffect = 'wash'\nbars = [1, 2]\nevery = 2\n")
    assert len(report.dark_times) == 8
    assert findings(report)[-1] == "nothing is lit in 3 more stretches, 0:06.00 in all"


def test_a_show_without_cues_is_dark_all_the_time(checked: Check) -> None:
    assert findings(checked("title = 'Empty'"))[-1] == "nothing is lit in bars 1 to 17 (0:00.00 to 0:32.00)"


def test_reports_are_values_and_json(checked: Check) -> None:
    report = checked(LIT)
    assert report == checked(LIT)
    assert json.loads(json.dumps(report.as_dict()))["cues"][0]["pixels"] == 300


def test_the_text_fits_eighty_columns(checked: Check) -> None:
    report = checked(
        "title = 'First light'\n[[cue]]\neffect = 'wash'\nname = 'Roof awakes'\non = ['pond', 'upper']\nbars = [1, 2]\n"
        "every = 2\n[[cue]]\neffect = 'glow'\non = 'archs'\n"
    )
    text = report_text(report)
    assert max(len(line) for line in text.splitlines()) < 80
    assert text.startswith(
        "show   First light\n"
        "house  Test house: 6 props, 300 pixels\n"
        "song   0:32.00, 16 bars\n"
        "Flashes are looked for by 'eavesong limits', in rendered frames.\n"
        "What other cues always cover is looked for by 'eavesong check'.\n"
        "\n"
        "cue 1 'Roof awakes': wash on upper (choice 2 of 2)\n"
        "    100 pixels (33 %): ridge\n"
        "    bars 1 to 2 (0:00.00 to 0:02.00), bars 3 to 4 (0:04.00 to 0:06.00), bars 5\n"
        "    to 6 (0:08.00 to 0:10.00), bars 7 to 8 (0:12.00 to 0:14.00), and 4 more\n"
        "\n"
        "cue 2: glow on archs\n"
        "    lights nothing\n"
        "    bars 1 to 17 (0:00.00 to 0:32.00)\n"
        "\n"
        "What stays dark (8):\n"
        '- line 10, cue 2, on: the cue lights nothing: no prop here matches "archs".\n'
        "  Did you mean 'arch'?\n"
    )


def test_the_text_says_so_when_all_is_well(checked: Check) -> None:
    assert report_text(checked(LIT)).endswith(
        "Every prop is lit, and the house is dark at no time for long. Nothing to look at."
    )


def test_the_gravest_come_first(checked: Check) -> None:
    report = checked(
        f"{LIT}[[cue]]\neffect = 'glow'\npalette = 'ember'\n[[cue]]\neffect = 'wash'\non = 'hedge'\n"
        "[[cue]]\neffect = 'wash'\nbars = [30, 40]\n"
    )
    assert report.weights == ("dark", "stand-in", "odd")
    assert [finding.place for finding in report.findings] == [
        "line 11, cue 4, bars", "line 8, cue 3, on", "line 5, cue 2, palette",
    ]  # fmt: skip
    text = report_text(report)
    assert text.index("What stays dark (1):") < text.index("What stands in (1):") < text.index("What else is odd (1):")


def test_what_is_merely_absent_is_counted_and_no_finding(checked: Check) -> None:
    """'upright' is a word of its own, and no slip for another: there is nothing to look at."""
    report = checked(f"{LIT}[[cue]]\neffect = 'wash'\non = 'upright or upper or wreath'\n")
    assert (report.findings, report.absent) == ((), ("upright", "wreath"))
    assert report_text(report).endswith("while others of the same cue are lit: 2 (upright, wreath).")


@pytest.mark.parametrize("word", ["lower", "idge", "pear"])
def test_words_that_are_not_alike_are_no_advice(checked: Check, word: str) -> None:
    report = checked(f"{LIT}[[cue]]\neffect = 'wash'\non = '{word} or ridge'\n")
    assert report.absent == (word,)


@pytest.mark.parametrize(
    ("effect", "order", "found"),
    [
        ("wash", "left to right", "the effect 'wash' does not go from prop to prop, so this changes nothing"),
        ("toss", "arch", ""),
        ("toss", "right to left", ""),
        ("toss", "hedge", "'hedge' is none of the props that the cue lights"),
        ("toss", "left to rihgt", "'left to rihgt' is none of the props that the cue lights"),
    ],
)
def test_an_order_that_changes_nothing(
    house: Layout, grid: BeatGrid, wash_text: str, tmp_path: Path, effect: str, order: str, found: str
) -> None:
    """toss goes from prop to prop, the test's own wash does not; the second cue lights the rest of the house."""
    (tmp_path / "wash.toml").write_text(wash_text)
    name = "wash.toml" if effect == "wash" else effect
    text = f"[[cue]]\neffect = 'ebb'\n[[cue]]\neffect = '{name}'\non = 'path or tree'\norder = '{order}'\n"
    (tmp_path / "a.show.toml").write_text(text)
    findings = check(set_scene(load_show(tmp_path / "a.show.toml"), house, grid)).findings
    assert [finding.found for finding in findings] == ([found.replace("'wash'", f"'{name}'")] if found else [])
    if "rihgt" in order:
        assert findings[0].instead == "Did you mean 'left to right'?"


def test_a_cue_that_goes_on_to_the_end_inside_a_bar_says_so(
    read: Callable[[str], Show], house: Layout, grid_at: Callable[..., BeatGrid]
) -> None:
    song = replace(grid_at(), duration=31.0)
    report = check(set_scene(read("[[cue]]\neffect = 'glow'\n"), house, song))
    assert [str(span) for span in report.cues[0].spans] == ["bars 1 to the end (0:00.00 to 0:31.00)"]


@pytest.mark.parametrize(("name", "told"), [("Frost", True), ("frost", False), ("Ours", False)])
def test_a_palette_of_the_shows_own_that_is_missed_by_a_capital_is_told(read, house, grid, name, told):
    show = read(f"[palettes]\n{name} = ['red']\n[[cue]]\neffect = 'wash'\npalette = 'frost'\n")
    found = [each.instead for each in check(set_scene(show, house, grid)).findings if "palette" in each.place]
    assert found == ["Write 'Frost', if that is meant."] * told
