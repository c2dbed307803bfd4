"""A show by bars on a song whose bars were counted anew, the bars of its parts written down by hand."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from eavesong.check import check
from eavesong.check.shifted import bars_late, kept_elsewhere, moved_since, other_parts_in, restaged_in
from eavesong.layout import Layout
from eavesong.music import BeatGrid, Section
from eavesong.music.made_for import made_for_line
from eavesong.scene import set_scene
from eavesong.show import Show

PARTS = (1, 9, 17, 21, 29, 33)
"""Bars in which the song's parts begin: bars of four beats, two seconds each."""


def song(parts: tuple[float, ...] = PARTS) -> BeatGrid:
    ends = (*parts[1:], 41)
    sections = tuple(
        Section(2.0 * (a - 1), 2.0 * (b - 1), "ab"[n % 2]) for n, (a, b) in enumerate(zip(parts, ends, strict=True))
    )
    return BeatGrid(tuple(n / 2 for n in range(160)), (1, 2, 3, 4) * 40, sections, 80.0)


def cues(late: int, parts: tuple[int, ...] = PARTS) -> str:
    ends = (*parts[1:], 41)
    spans = [f"[{a + late}, {b + late}]" for a, b in zip(parts, ends, strict=True)]
    return "".join(f"[[cue]]\neffect = 'glow'\nbars = {span}\n" for span in spans)


@pytest.mark.parametrize(
    ("text", "late"),
    [
        (cues(0), 0),
        (cues(1), 1),
        (cues(-1, PARTS[1:]), -1),
        (cues(3), 3),
        (cues(5), 0),  # too far to be a correction
        ("[[cue]]\neffect = 'glow'\nbars = [2, 10]\n", 0),  # two parts of six begin so: by chance
        ("[[cue]]\neffect = 'glow'\nsections = 'b'\n" + cues(0), 0),
        ("[[cue]]\neffect = 'glow'\nbars = [2, 3]\nevery = 4\n", 0),  # by a rule of its own
        ("[[cue]]\neffect = 'glow'\n", 0),
    ],
)
def test_parts_that_begin_beside_the_cues_throughout_are_told(
    read: Callable[[str], Show], house: Layout, text: str, late: int
) -> None:
    scene = set_scene(read(text), house, song())
    assert bars_late(scene) == late
    told = [each.found for each in check(scene).findings if "counted otherwise" in each.found]
    assert len(told) == bool(late)
    if late:
        assert ("after" if late > 0 else "before") in told[0]
        assert ("a bar" if abs(late) == 1 else f"{abs(late)} bars") in told[0]


def test_of_a_song_of_few_parts_nothing_is_said(read: Callable[[str], Show], house: Layout) -> None:
    scene = set_scene(read(cues(1, (1, 17, 33))), house, song((1, 17, 33)))
    assert bars_late(scene) == 0


BEGAN = f"bars_began = {[[bar, 2.0 * (bar - 1)] for bar in (*PARTS, 41)]}\n"
"""What a draft notes of `song`."""


def counted(grid: BeatGrid, *, late: int = 0, since: int = 0, metre: int = 4) -> BeatGrid:
    """The song with its bars counted otherwise: ``late`` beats later from beat ``since`` on, behind a longer bar."""
    before = [n % metre + 1 for n in range(since)]
    longer = [metre + 1 + n if since else metre - late + 1 + n for n in range(late)]
    return replace(grid, positions=(*before, *longer, *(n % metre + 1 for n in range(160 - since - late))))


@pytest.mark.parametrize(
    ("grid", "what"),
    [
        (song(), None),
        (counted(song(), late=1), None),  # by a beat: told otherwise
        (counted(song(), late=3), "bar 1 begins at 0:01.50 now, and began at 0:00.00; so do 6 more of 7 bars"),
        (counted(song(), late=4, since=4), "bar 9 begins at 0:18.00 now, and began at 0:16.00; so do 5 more of 7"),
        (counted(song(), metre=3), "bar 9 begins at 0:12.00 now, and began at 0:16.00"),
        (counted(song(), late=4, since=72), "bar 21 begins at 0:42.00 now"),
        (
            song((1, 9, 18, 21, 29, 33)),
            "section a begins at 0:34.00 now, and none of the sections did then: the nearest began at 0:32",
        ),
        (
            song((1, 9, 17.6, 21, 29, 33)),  # by hand, into a bar
            "section a begins at 0:33.20 now, and none of the sections did then: the nearest began at 0:32",
        ),
        (replace(song(), times=tuple(n / 2 + 0.1 for n in range(160))), None),  # put right by ear
    ],
)
def test_bars_and_sections_that_are_others_than_when_it_was_written(
    read: Callable[[str], Show], house: Layout, grid: BeatGrid, what: str | None
) -> None:
    report = check(set_scene(read(BEGAN + cues(0)), house, grid))
    told = [each.found for each in report.findings if "others than those it was written for" in each.found]
    assert len(told) == (what is not None)
    if what:
        assert what in told[0]
        assert report.weights[0] == "texts"
        assert not [each for each in report.findings if "the song lasts until" in each.instead]  # one cure, not ten


def test_bars_that_were_moved_by_a_beat_take_cues_along_and_are_told_as_less(
    read: Callable[[str], Show], house: Layout
) -> None:
    report = check(set_scene(read(BEGAN + cues(0)), house, counted(song(), late=1)))
    told = dict(zip(report.weights, report.findings, strict=True))
    assert "texts" not in told
    found = (
        "bars begin elsewhere than when it was written, by less than a bar: bar 1 begins at 0:00.50 now, and began at"
    )
    assert found in told["odd"].found
    assert "delete 'bars_began'" in told["odd"].instead
    assert "'beats' count from" not in told["odd"].instead
    by_beats = "[[cue]]\nname = 'topper'\neffect = 'glow'\nbeats = [[129, 145]]\n"
    told = check(set_scene(read(BEGAN + cues(0) + by_beats), house, counted(song(), late=1))).findings
    assert [each for each in told if "may be others: look at cue 7 'topper'." in each.instead]
    later = replace(song(), times=tuple(n / 2 + 0.3 for n in range(160)))  # 0.15 of a bar
    found = [each.found for each in check(set_scene(read(BEGAN + cues(0)), house, later)).findings]
    assert [each for each in found if "elsewhere than when it was written" in each and "so do 6 more of 7 bars" in each]


def test_seconds_in_another_copy_of_the_song_say_nothing(read: Callable[[str], Show], house: Layout) -> None:
    """Bars that were carried over to a copy with a longer silence before it are the same ones, some seconds later."""
    later = replace(song(), times=tuple(n / 2 + 6.0 for n in range(148)), positions=song().positions[:148])
    for hashed, told in (("a", False), ("b", True)):
        scene = set_scene(read(made_for_line(64 * "b") + BEGAN + cues(0)), house, later)
        assert (moved_since(replace(scene, hashes={"audio": 64 * hashed})) is not None) == told


def test_a_show_that_counts_no_bars_does_not_mind(read: Callable[[str], Show], house: Layout) -> None:
    text = BEGAN + "[[cue]]\neffect = 'glow'\nsections = 'b'\n"
    assert moved_since(set_scene(read(text), house, counted(song(), late=3))) is None


def test_only_cues_at_bars_that_are_others_now_are_told_as_kept(read: Callable[[str], Show]) -> None:
    """From bar 13 on all begins two beats later; and sections may move as they like."""
    kept = "".join(f"[[cue]]\neffect = 'glow'\nbars = {bars}\nkeep = true\n" for bars in ([2, 5], [30, 33], [60, 70]))
    show = read(BEGAN + kept + "[[cue]]\neffect = 'wash'\nbars = [30, 33]\n")
    late = replace(song(), times=tuple(n / 2 + (n >= 48) * 1.5 for n in range(160)))
    assert kept_elsewhere(late, show, "") == ["'glow' (bar 30 begins at 0:59.50, among bars that begin elsewhere now)"]
    assert kept_elsewhere(song((1, 9, 18, 21, 29, 33)), show, "") == []
    for by, told in ((0.5, True), (0.2, False)):  # a beat; what is put right by ear
        moved = replace(song(), times=tuple(n / 2 + (n >= 48) * by for n in range(160)))
        assert bool(kept_elsewhere(moved, show, "")) == told
    assert kept_elsewhere(late, read(kept), "") == []


def test_nothing_is_said_of_a_kept_cue_among_uneven_bars_that_are_as_they_were(read: Callable[[str], Show]) -> None:
    """Bars of four and of two beats in turn: bar 12 begins nowhere near the middle between the parts around it."""
    positions = tuple(position for _ in range(14) for position in (1, 2, 3, 4, 1, 2, 3, 4, 1, 2))
    grid = BeatGrid(tuple(n / 2 for n in range(len(positions))), positions, (), 70.0)
    began = ", ".join(f"[{bar}, {grid.time_of_bar(bar - 1):.2f}]" for bar in (1, 10, 14, 30))
    show = read(f"bars_began = [{began}]\n[[cue]]\neffect = 'glow'\nbars = [12, 13]\nkeep = true\n")
    assert kept_elsewhere(grid, show, "") == []
    late = BeatGrid(tuple(n / 2 + 2 for n in range(len(positions))), positions, (), 75.0)
    assert len(kept_elsewhere(late, show, "")) == 1


LETTERS = "abacab"
NAMED = ", ".join(f'[{bar}, {2.0 * (bar - 1):g}, "{name}"]' for bar, name in zip(PARTS, LETTERS, strict=True))


def test_a_section_that_moved_is_told_once_and_one_that_was_joined_beside_it(
    read: Callable[[str], Show], house: Layout
) -> None:
    """Bar 17's part begins with bar 18, and bar 21's goes on from the one before."""
    report = check(set_scene(read(BEGAN + cues(0)), house, song((1, 9, 18, 29, 33))))
    moved, joined = (each.found for each in report.findings if "others than those it was written for" in each.found)
    assert "section a begins at 0:34.00 now, and none of the sections did then: the nearest began at 0:32.00" in moved
    assert "no section begins at 0:40 now" in joined
    assert "more change" not in joined
    late = counted(song((1, 9, 18, 29, 33)), late=1)
    both = [each.found for each in check(set_scene(read(BEGAN + cues(0)), house, late)).findings]
    assert any(
        "the nearest began at 0:32.00; 7 bars at which one began or ended begin elsewhere, too" in each for each in both
    )


def lettered(letters: str) -> BeatGrid:
    """The song, its parts called otherwise."""
    sections = song().sections
    return replace(song(), sections=tuple(replace(each, label=to) for each, to in zip(sections, letters, strict=True)))


@pytest.mark.parametrize(
    ("letters", "cue", "told"),
    [
        (LETTERS, "sections = 'c'", None),
        ("abaxac", "sections = 'c'", "section 'c' is another part of the song now: it was 0:40 to 0:56, and is 1:04"),
        ("abcxab", "sections = ['b', 'C']", "section 'b' or 'C' is another part of the song now: it was 0:40 to 0:56"),
        ("abacax", "sections = 'b'", "section 'b' is less of the song now: 1:04 to 1:20 no more"),
        ("abacax", "sections = 'b'\nturn = 'last'", "section 'b', turn 'last', is another part of the song now: it was "
         "1:04 to 1:20, and is 0:16 to 0:32"),
        ("abacax", "sections = 'b'\nturn = 1", None),
        ("abacax", "sections = ['b', 'x']", None),  # it has another name, and is lit all the same
        ("uvuxuv", "sections = 'c'", "section 'c' is nothing of the song now: 0:40 to 0:56 no more"),
        ("abacax", "sections = 'x'", None),  # written since
        ("abaxac", "bars = [21, 29]", None),
    ],
)  # fmt: skip
def test_a_cue_by_a_section_that_is_other_parts_of_the_song_now_is_told(
    read: Callable[[str], Show], house: Layout, letters: str, cue: str, told: str | None
) -> None:
    """As happens where letters were given anew; no bar has moved."""
    show = read(f"bars_began = [{NAMED}, [41, 80]]\n[[cue]]\neffect = 'glow'\n{cue}\n")
    report = check(set_scene(show, house, lettered(letters)))
    found = [each for each in report.findings if "of the song now" in each.found]
    assert len(found) == (told is not None)
    if told:
        assert told in found[0].found
        assert found[0].found.endswith(", with cue 1 (glow)")
        assert "is 'x' now" in found[0].instead
    without = read(f"bars_began = [[1, 0], [9, 16]]\n[[cue]]\neffect = 'glow'\n{cue}\n")
    assert other_parts_in(lettered(letters), without, "") == []  # nothing is known of what it was
    elsewhere = read(made_for_line(64 * "b") + show.text)
    assert other_parts_in(lettered(letters), elsewhere, 64 * "a") == []


@pytest.mark.parametrize(
    ("begins", "cue", "told"),
    [
        ({64: "b", 72: "b"}, "sections = 'b'", ""),  # heard as two, and lit as it was
        ({64: "b", 72: "b"}, "sections = 'b'\nturn = 'last'", "it was 1:04 to 1:20, and is 1:12 to 1:20"),
        ({66: "b"}, "sections = 'b'\nturn = 2", "it was 1:04 to 1:20, and is 1:06 to 1:20"),
        ({65: "b"}, "sections = 'b'", ""),  # goes along with a bar that was put right by two beats
    ],
)
def test_a_cue_is_told_where_its_section_is_parted_or_begins_elsewhere(
    read: Callable[[str], Show], begins: dict[float, str], cue: str, told: str
) -> None:
    first = replace(lettered(LETTERS).sections[-2], end=min(begins))
    ends = (*[*begins][1:], 80.0)
    last = [Section(start, end, label) for (start, label), end in zip(begins.items(), ends, strict=True)]
    grid = replace(song(), sections=(*lettered(LETTERS).sections[:-2], first, *last))
    show = read(f"bars_began = [{NAMED}, [41, 80]]\n[[cue]]\neffect = 'glow'\n{cue}\n")
    found = [str(part) for part in other_parts_in(grid, show, "")]
    assert len(found) == bool(told)
    assert not told or told in found[0]


KINDS = {"q": "quiet", "s": "steady", "h": "high"}


def staged(bars: tuple[int, ...], letters: str, kinds: str) -> BeatGrid:
    """The song in parts that begin at these bars."""
    parts = zip(song(bars).sections, letters, kinds, strict=True)
    return replace(song(), sections=tuple(replace(part, label=to, kind=KINDS[kind]) for part, to, kind in parts))


@pytest.mark.parametrize(
    ("bars", "letters", "kinds", "told"),
    [
        (PARTS, "abacab", "qsqssh", ""),
        (PARTS, "xyxzxy", "qsqssh", ""),  # called otherwise, each time
        (PARTS, "abacab", "qhqssh", "'b' (steady) from 0:16 on is 'b' (high) now"),
        (PARTS, "abaaab", "qsqssh", "'c' (steady) from 0:40 on is 'a' (steady) now"),
        ((1, 9, 17, 29, 33), "abaab", "qsqsh", "no section begins at 0:40 now, where 'c' (steady) did: 'a'"),
        ((1, 9, 17, 21, 33), "abacb", "qsqhh", "'c' (steady) from 0:40 on is 'c' (high) now; 1 more change since"),
    ],
)  # fmt: skip
def test_parts_that_are_joined_or_staged_otherwise_are_told_where_cues_go_by_bars(
    read: Callable[[str], Show], house: Layout, bars: tuple[int, ...], letters: str, kinds: str, told: str
) -> None:
    parts = zip(PARTS, LETTERS, "qsqssh", strict=True)
    began = ", ".join(f'[{bar}, {2 * (bar - 1)}, "{name}", "{KINDS[kind]}"]' for bar, name, kind in parts)
    text = f"bars_began = [{began}, [41, 80]]\n"
    grid = staged(bars, letters, kinds)
    report = check(set_scene(read(text + cues(0)), house, grid))
    found = [each.found for each in report.findings if "others than those it was written for" in each.found]
    assert len(found) == bool(told)
    if told:
        assert told in found[0]
        assert report.weights[0] == "texts"
    assert restaged_in(grid, read(text + "[[cue]]\neffect = 'glow'\nsections = 'b'\n"), "") == []
    assert restaged_in(grid, read(made_for_line(64 * "b") + text + cues(0)), 64 * "a") == []


def test_a_new_beginning_is_told_as_one_and_not_twice(read: Callable[[str], Show], house: Layout) -> None:
    grid = lettered("abacab")
    grid = replace(grid, sections=(*grid.sections[:-1], Section(64, 72, "b"), Section(72, 80, "x")))
    show = read(f"bars_began = [{NAMED}, [41, 80]]\n{cues(0)}")
    assert [str(part) for part in restaged_in(grid, show, "")] == ["'x' begins at 1:12 now, where none did"]
    found = [each.found for each in check(set_scene(show, house, grid)).findings if "others than those" in each.found]
    assert len(found) == 1


@pytest.mark.parametrize(("later", "told"), [(0.5, 0), (2.0, 2)])
def test_a_part_that_moved_with_the_bars_is_not_gone(read: Callable[[str], Show], later: float, told: int) -> None:
    """Bars of two seconds: the part from 1:04 on begins a beat later, or a whole bar."""
    grid = lettered("abacab")
    *parts, before, last = grid.sections
    grid = replace(grid, sections=(*parts, replace(before, end=64 + later), replace(last, start=64 + later)))
    show = read(f"bars_began = [{NAMED}, [41, 80]]\n{cues(0)}")
    assert len(restaged_in(grid, show, "")) == told  # gone where it was, and new where it is


@pytest.mark.parametrize(("start", "told"), [(72.0, True), (66.0, False)])
def test_a_new_beginning_is_told_where_bars_are_others_too_but_for_one_that_may_have_moved_with_them(
    read: Callable[[str], Show], house: Layout, start: float, told: bool
) -> None:
    """Bars of three beats, 1.5 s each, instead of four: sections that were heard begin elsewhere by less than one."""
    grid = lettered("abacab")
    parts = (*grid.sections[:-1], Section(64, start, "b"), Section(start, 80, "x"))
    grid = replace(grid, positions=((1, 2, 3) * 54)[: len(grid.times)], sections=parts)
    found = [
        each.found
        for each in check(set_scene(read(f"bars_began = [{NAMED}, [41, 80]]\n{cues(0)}"), house, grid)).findings
    ]
    assert any("the song's bars are others" in each for each in found)
    assert any("'x' begins at 1:12 now, where none did" in each for each in found) == told


def test_what_a_part_is_called_now_is_said_where_most_of_it_is(read: Callable[[str], Show]) -> None:
    """Half of what was the first part still is called so, and the rest is parted between two others."""
    show = read("bars_began = [[1, 0, 'a'], [25, 48, 'b'], [41, 80]]\n[[cue]]\neffect = 'glow'\nsections = 'a'\n")
    ends = {"a": (0, 22), "b": (22, 36), "c": (36, 80)}
    parts = tuple(Section(float(start), float(end), label) for label, (start, end) in ends.items())
    (part,) = other_parts_in(replace(song(), sections=parts), show, "")
    assert (part.lost, part.gained, part.by_now) == (((0, 48),), ((0, 22),), "")


@pytest.mark.parametrize(
    ("now", "told"),
    [
        ("qhqhqh", ""),
        ("qqqhqh", "what is 'high' is less of the song now: 0:16 to 0:32 no more"),
        ("hhqhqh", "what is 'high' is another part of the song now: it was 0:16 to 0:32, and is 0:00 to 0:32"),
        ("qhqhhh", "what is 'high' is another part of the song now: it was 0:40 to 0:56 and 1 more, and is 0:40 to"),
    ],
)
def test_kinds_of_which_other_parts_are_by_now_are_told_where_cues_name_them(
    read: Callable[[str], Show], house: Layout, now: str, told: str
) -> None:
    kinds = {"q": "quiet", "h": "high"}

    def of(letters: str) -> BeatGrid:
        parts = zip(song().sections, letters, strict=True)
        return replace(song(), sections=tuple(replace(part, kind=kinds[letter]) for part, letter in parts))

    began = ", ".join(
        f'[{bar}, {2.0 * (bar - 1):g}, "a", "{kinds[kind]}"]' for bar, kind in zip(PARTS, "qhqhqh", strict=True)
    )
    text = f"bars_began = [{began}, [41, 80]]\n[[cue]]\neffect = 'glow'\n"
    report = check(set_scene(read(text + "kinds = 'high'\n"), house, of(now)))
    found = [each.found for each in report.findings if "of the song now" in each.found]
    assert len(found) == bool(told)
    assert not told or found[0].startswith(told)
