"""Letters of sections, on bars that are made up: equal sections bear one letter."""

from dataclasses import replace

import numpy as np
import pytest

from eavesong.music.barwise import Bars
from eavesong.music.grid import Section
from eavesong.music.letters import called_otherwise, lettered_as, letters_of


def bars(plan: str, each: int = 4, chords: bool = False, noise: float = 0.0) -> tuple[Bars, list[int]]:
    """Sections of ``each`` bars, one for each letter of the plan, and where they begin but for the first."""
    random = np.random.default_rng(1)
    sounds = {letter: random.normal(size=(each, 32)) for letter in sorted(set(plan))}
    sound = np.concatenate([sounds[letter] + noise * random.normal(size=(each, 32)) for letter in plan])
    harmony = np.zeros((len(sound), 48)) if chords else None
    edges = np.arange(len(sound) + 1.0)
    return Bars(edges, sound, sound.copy(), harmony), list(range(each, len(sound), each))


@pytest.mark.parametrize("chords", [False, True])
@pytest.mark.parametrize("plan", ["A", "AB", "ABAB", "ABCBA", "AABBA"])
def test_sections_that_are_alike_bear_one_letter(plan: str, chords: bool) -> None:
    assert "".join(letters_of(*bars(plan, chords=chords))) == plan


def test_a_little_noise_makes_no_other_section() -> None:
    assert "".join(letters_of(*bars("ABAB", noise=0.1))) == "ABAB"


def test_a_fill_in_one_bar_makes_no_other_section() -> None:
    made, inner = bars("ABA", each=8)
    made.sound[-1] += 5
    assert "".join(letters_of(made, inner)) == "ABA"


def test_letters_go_on_after_z() -> None:
    plan = "".join(chr(ord("A") + number) for number in range(26))
    made, inner = bars(plan + "[", each=2)
    assert letters_of(made, inner)[-1] == "part 27"


def parts(plan: str, each: float = 10.0, first: float = 0.0) -> tuple[Section, ...]:
    """A section of ``each`` seconds for every letter of the plan."""
    return tuple(Section(first + each * n, first + each * (n + 1), letter) for n, letter in enumerate(plan))


@pytest.mark.parametrize(
    ("ours", "before", "called"),
    [
        ("BBCDEF", "BBCDEF", "BBCDEF"),
        ("ABCDEA", "AABCDA", "AEBCDA"),  # the second A is another part here: it gets a letter that was not there
        ("ABCABC", "BCABCA", "BCABCA"),  # the same parts in another order of coming
        ("ABAB", "AAAA", "ABAB"),
        ("A", "", "A"),
    ],
)
def test_letters_of_another_reading_are_those_that_parts_had_before(ours: str, before: str, called: str) -> None:
    """Where boundaries lie a little elsewhere, too."""
    for late in (0.0, 0.5):
        given = lettered_as(parts(ours, first=late), parts(before))
        assert "".join(part.label for part in given) == called
        assert [part.start for part in given] == [part.start for part in parts(ours, first=late)]


def test_parts_that_another_reading_calls_otherwise_are_named():
    before = parts("ABB")
    assert called_otherwise(parts("ABC"), before) == [(before[2], "C")]
    assert called_otherwise(parts("ABB", first=2.0), before) == []
    assert called_otherwise((), before) == []
    soft = tuple(replace(part, kind="quiet") for part in before)
    assert called_otherwise((*soft[:2], replace(soft[2], kind="high")), soft) == [(soft[2], "B high")]


def test_of_a_part_that_is_two_now_both_are_named_with_when_the_second_begins():
    """From 60 s on, where a part of 30 s is one of another kind for 12 s, and then another part."""
    kinds = {"A": "high", "D": "steady"}
    before = tuple(replace(part, kind=kinds[part.label]) for part in parts("DDA", each=30.0))
    now = (*before[:2], Section(60.0, 72.0, "A", "steady"), Section(72.0, 90.0, "D", "high"))
    assert called_otherwise(now, before) == [(before[2], "A steady, and D high from 1:12 on")]
    begun = (*before[:2], Section(60.0, 72.0, "A", "high"), Section(72.0, 90.0, "D", "high"))
    assert called_otherwise(begun, before) == [(before[2], "D high from 1:12 on")]


def test_of_a_part_in_many_pieces_the_longest_is_named_and_a_short_one_parts_nothing():
    whole = parts("A", each=100.0)
    pieces = (*parts("BCDE", each=19.0), Section(76.0, 100.0, "F"))
    assert called_otherwise(pieces, whole) == [(whole[0], "F from 1:16 on")]
    between = (Section(0.0, 40.0, "B"), Section(40.0, 60.0, "C"), Section(60.0, 100.0, "B"))
    assert called_otherwise(between, whole) == [(whole[0], "B")]
