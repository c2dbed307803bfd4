"""A check's report as text."""

from eavesong.check.findings import CueReport, Report, Stretch
from eavesong.check.report import report_text
from eavesong.errors import Problem

SPAN = Stretch(0.5, 16.5, "1", "9")
CUE = CueReport(1, "", "wash", "roofline", 1, 2, ("ridge", "eaves"), 200, 2 / 3, (SPAN,))


def report(*cues: CueReport, findings: tuple[Problem, ...] = ()) -> Report:
    return Report("Frost", "House", 1, 1200, 63.5, 32, cues, (), (), findings, ("dark",) * len(findings))


def test_counts_have_their_nouns_and_times_their_clock() -> None:
    lines = report_text(report(CUE)).splitlines()
    assert lines[1:3] == ["house  House: 1 prop, 1,200 pixels", "song   1:03.50, 32 bars"]
    assert "    200 pixels (67 %): ridge, eaves" in lines
    assert "    bars 1 to 9 (0:00.50 to 0:16.50)" in lines
    assert lines[-1].endswith("Nothing to look at.")


def test_a_cue_says_which_choice_it_took_and_one_without_that_it_is_dark() -> None:
    second = CueReport(2, "Path", "wash", "path", 2, 2, ("arch",), 1, 0.0008, ())
    dark = CueReport(3, "", "wash", "pond", 0, 1, (), 0, 0.0, ())
    text = report_text(report(second, dark))
    assert "cue 2 'Path': wash on path (choice 2 of 2)" in text
    assert "    1 pixel (under 1 %): arch\n    never" in text
    assert "cue 3: wash on pond\n    lights nothing" in text


def test_findings_are_counted_and_stay_within_80_columns() -> None:
    many = tuple(Problem("a", f"line {n}", "something is here " * 8, "Do otherwise. " * 8) for n in range(2))
    text = report_text(report(CUE, findings=many))
    assert "\nWhat stays dark (2):\n- line 0: something is here" in text
    assert max(map(len, text.splitlines())) < 80


def test_what_is_said_of_several_cues_alike_is_said_once() -> None:
    found = 'no prop here matches "star"; lit is the house'
    many = tuple(Problem("a", f"line {9 * n}, cue {n}, on", found, "Give it the tag 'star'.") for n in (2, 5, 7))
    text = report_text(report(CUE, findings=many))
    assert f"\nWhat stays dark (3):\n- line 18, cue 2, on: {found}; likewise" in text
    assert "likewise cues 5, 7." in " ".join(text.split())
    assert text.count("Give it the tag") == 1


def test_no_more_props_and_spans_than_one_reads() -> None:
    many = CueReport(1, "", "wash", "all", 1, 1, tuple(f"p{n}" for n in range(20)), 20, 1.0, (SPAN,) * 9)
    text = report_text(report(many))
    assert "and 12 more" in text
    assert "and 5 more" in text


def test_what_a_check_does_not_look_for_is_said():
    from dataclasses import replace

    assert "Flashes are looked for by 'eavesong limits'" in report_text(replace(report(CUE), drawn=True))
    assert "always cover" not in report_text(replace(report(CUE), drawn=True))
    assert "always cover" in report_text(report(CUE))
