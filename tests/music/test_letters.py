"""Letters of sections, on bars that are made up: equal sections bear one letter."""

import numpy as np
import pytest

from eavesong.music.barwise import Bars
from eavesong.music.letters import letters_of


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
