"""How a grid is shown, and the command that shows it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from eavesong.cli.beats import command
from eavesong.errors import AudioError, OutputError
from eavesong.music import (
    BeatGrid,
    Reading,
    Section,
    describe,
    describe_others,
    inside_bars,
    read_grid,
    write_beats,
    write_sections,
)  # fmt: skip

from .conftest import clicks

WALTZ = BeatGrid(
    tuple(0.4 + 0.4 * k for k in range(13)),
    (3, *(k % 3 + 1 for k in range(12))),
    (Section(0.0, 3.2, "intro"), Section(3.2, 6.0, "the part that everyone can sing along")),
    6.0,
)

SHOWN = """\
length    0:06.00
tempo     150 beats a minute
beats     13, 1 of them before bar 1
bars      4, from 0:00.80 on
metre     3 beats to the bar

section                      start       end       bars  tempo
intro                      0:00.00   0:03.20        1–2  150
the part that everyone …   0:03.20   0:06.00        3–4  150"""


def test_a_grid_is_shown_as_people_talk_about_it() -> None:
    assert describe(WALTZ) == SHOWN


def test_sections_that_begin_inside_a_bar_are_named() -> None:
    """Bars begin at 0.8, 2.0, 3.2 and 4.4 s, of three beats of 0.4 s."""
    assert inside_bars(WALTZ) == ()
    between = replace(WALTZ, sections=(Section(0.0, 2.8, "a"), Section(2.8, 4.4, "b"), Section(4.4, 6.0, "c")))
    assert inside_bars(between) == ("b at 0:02.80, 2 beats into bar 2",)


def test_other_readings_are_told_apart_by_their_bars() -> None:
    """What has the bars of one that was told already is no choice."""
    later = replace(WALTZ, positions=tuple((k + 1) % 3 + 1 for k in range(13)))
    half = replace(WALTZ, positions=(*WALTZ.positions[:7], 4, *(k % 3 + 1 for k in range(5))))
    grids = (WALTZ, later, half, WALTZ, later)
    readings = [Reading(grid, 0.5, (), "bars that begin elsewhere" if n else "") for n, grid in enumerate(grids)]
    assert describe_others(readings).splitlines() == [
        "  2  bars that begin elsewhere, bar 1 at 0:01.20, 150 a minute, 50 %",
        "  3  bars that begin elsewhere, from 0:03.60 on, 150 a minute, 50 %",
    ]


def test_readings_of_the_same_words_are_told_apart_by_their_bars() -> None:
    late = replace(WALTZ, times=tuple(time + 0.2 for time in WALTZ.times))
    later = replace(late, positions=(1, 2, *WALTZ.positions[:-2]))
    readings = [
        Reading(grid, 0.5, (0.5,), about)
        for grid, about in ((WALTZ, ""), (late, "the off-beat"), (later, "the off-beat"))
    ]
    assert describe_others(readings).splitlines() == [
        "  2  the off-beat, bar 1 at 0:01.00, 150 a minute, 50 %",
        "  3  the off-beat, bar 1 at 0:00.60, 150 a minute, 50 %",
    ]


def test_a_figure_higher_than_the_first_ones_is_told_as_a_guess() -> None:
    late = replace(WALTZ, times=tuple(time + 0.2 for time in WALTZ.times))
    first, other = Reading(WALTZ, 0.24, (), ""), Reading(late, 0.3, (), "the off-beat")
    for shown in (0, 1):
        assert "the figure of any other is a rough\nguess" in describe_others([first, other], shown)
    assert "guess" not in describe_others([replace(first, confidence=0.3), replace(other, confidence=0.304)])


def test_a_section_before_the_first_bar_has_no_bars() -> None:
    """Bar 1 begins at 0.8 s; what begins two bars before it ends before it."""
    late = replace(
        WALTZ,
        times=tuple(time + 2.4 for time in WALTZ.times),
        sections=(Section(0.0, 1.0, "new"), Section(1.0, 5.6, "intro"), Section(5.6, 8.4, "song")),
        duration=8.4,
    )
    rows = describe(late).splitlines()[-3:]
    assert [row.split()[3] for row in rows] == ["–", "1–2", "3–4"]


def test_kinds_and_confidence_have_columns_where_they_are_known() -> None:
    kinds = replace(
        WALTZ, sections=(Section(0.0, 3.2, "intro", "quiet"), Section(3.2, 6.0, "the part that everyone", "high"))
    )
    assert describe(kinds, (1.0,) * 7 + (0.5,) * 6).splitlines()[-3:] == [
        "section           kind      start       end       bars   sure  tempo",
        "intro             quiet   0:00.00   0:03.20        1–2  100 %  150",
        "the part that e…  high    0:03.20   0:06.00        3–4   50 %  150",
    ]


@pytest.mark.parametrize(("end", "last"), [(3.5, 2), (4.01, 2), (5.0, 3), (5.9, 3)])
def test_the_last_section_holds_the_bar_that_the_song_ends_in(end: float, last: int) -> None:
    """Bars of two seconds, the third heard for one second, half of it; a breath after the second is no bar."""
    beats = tuple(k / 2 for k in range(12) if k / 2 < end - 0.1)
    grid = BeatGrid(beats, tuple(k % 4 + 1 for k in range(len(beats))), (Section(0.0, end, "all"),), end)
    assert f"  1–{last}  " in describe(grid).splitlines()[-1]


def test_changing_tempo_and_metre_are_told() -> None:
    times = np.cumsum([1.0, *np.linspace(0.8, 0.4, 20)])
    positions = (1, 2, 3, 1, 2, 3, 1, 2, 3, 1, 2, 3, 1, 2, 3, 4, 1, 2, 3, 4, 1)
    shown = describe(BeatGrid(tuple(times), positions, (), 20.0))
    assert "tempo     78 to 139 beats a minute" in shown
    assert "metre     changes: 4 bars of 3, 2 bars of 4 (bars 5, 6); the last not counted" in shown
    shown = describe(BeatGrid((1.0, 2.0, 3.0, 4.0, 5.0), (1, 2, 1, 2, 3), (), 20.0))
    assert "metre     2 beats to the bar" in shown
    shown = describe(BeatGrid(tuple(range(10)), (1, 2, 1, 2, 3, 1, 2, 3, 1, 2), (), 20.0))
    assert "metre     changes: 2 bars of 3, 1 bar of 2 (bar 1); the last not counted" in shown


@pytest.mark.parametrize("kind", ["", "steady"])
def test_lines_fit_80_columns_whatever_the_grid(kind: str) -> None:
    positions = tuple(1 for _ in range(50)) + tuple(range(1, 60))
    times = tuple(250.0 * k + 1 for k in range(109))
    sections = tuple(Section(1000.0 * k, 1000.0 * (k + 1), "x" * 80, kind) for k in range(25))
    grid = BeatGrid(times, positions, sections, 30_000.0)
    assert max(len(line) for line in describe(grid, (1.0,) * grid.beat_count).splitlines()) <= 80


def test_the_command_shows_the_beats_texts_beside_a_song(write: Callable[..., Path]) -> None:
    song = write("song.wav", np.zeros(6 * 44_100))
    kinds = replace(WALTZ, sections=tuple(replace(section, kind="steady") for section in WALTZ.sections))
    write_beats(song.with_suffix(".beats"), kinds)
    write_sections(song.with_suffix(".sections"), kinds)
    done = CliRunner().invoke(command, [str(song)])
    assert done.exit_code == 0
    shown, _, answers = done.output.partition("\n\nstrokes")
    assert shown == f"song      song.wav\nfrom      song.beats and song.sections\n{describe(kinds)}"
    assert answers.split("\n")[0].split() == ["0", "low,", "0", "middle,", "0", "high"]


def test_the_command_writes_texts_that_are_read_again(write: Callable[..., Path], tmp_path: Path) -> None:
    song = write("song.wav", clicks(np.arange(0.5, 12, 0.5), 12.5))
    out, sections = tmp_path / "a.beats", tmp_path / "a.sections"
    done = CliRunner().invoke(command, [str(song), "--out", str(out), "--sections", str(sections)])
    assert done.exit_code == 0
    assert "from      listening to it" in done.output
    assert f"beats to {out}." in done.output
    assert read_grid(out, sections, 12.5).tempo == pytest.approx(120, abs=0.5)


def test_the_command_says_what_is_wrong(write: Callable[..., Path], tmp_path: Path) -> None:
    with pytest.raises(AudioError, match="there is no such file"):
        CliRunner().invoke(command, [str(tmp_path / "no.wav")], catch_exceptions=False)
    song = write("song.wav", clicks(np.arange(0.5, 12, 0.5), 12.5))
    with pytest.raises(OutputError, match="cannot be written"):
        CliRunner().invoke(command, [str(song), "--out", str(tmp_path / "no" / "a.beats")], catch_exceptions=False)
