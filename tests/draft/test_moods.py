"""Colours: what lamps show well, no red that counts as flashing by itself, and what is dim in hues that stay clean."""

import pytest

from eavesong.colours import linear_to_oklab, oklab_to_oklch, parse_colour
from eavesong.draft.moods import (
    APART,
    AWAY,
    MOODS,
    SCHEMES,
    Colours,
    apart,
    choices,
    close,
    hue_of,
    lighter,
    luminance,
    third,
    yellow,
)

SATURATED = 0.8
"""R / (R + G + B) of linear light from which a red is saturated (WCAG 2.2, red flash)."""
MUDDY = (35.0, 125.0)
"""Degrees of hue, orange to yellow-green, that are brown and olive where they are dark (common practice)."""


def hue(colour: str) -> float:
    return float(oklab_to_oklch(linear_to_oklab(parse_colour(colour)))[2])


def every() -> list[Colours]:
    return [each for scheme in range(len(SCHEMES)) for each in choices((), scheme)]


def all_of(each: Colours) -> tuple[str, ...]:
    return (each.main, each.beside, each.deep, lighter(each.main), lighter(each.beside))


@pytest.mark.parametrize("asked", [(), [["red", "#c00010"], ["crimson"]], [["#ff2a00", "white", "#300"]]])
def test_no_colour_is_a_saturated_red(asked):
    for each in choices(asked):
        for colour in all_of(each):
            red, green, blue = parse_colour(colour)
            assert red / (red + green + blue) < SATURATED


def test_what_is_dim_is_no_hue_that_turns_brown_or_olive():
    for each in every():
        assert not MUDDY[0] < hue(each.deep) < MUDDY[1]
        assert luminance(each.deep) < 0.12


def test_a_song_keeps_to_few_lamps_and_songs_differ():
    """Parts of one family of colours belong together (common practice)."""
    lamps = [{lamp for mood in scheme for lamp in MOODS[mood][:2]} for scheme in SCHEMES]
    assert all(3 <= len(each) <= 4 for each in lamps)
    assert len(set.union(*lamps)) >= 7
    assert all(one - other for one in lamps for other in lamps if one is not other)
    assert {mood for scheme in SCHEMES for mood in scheme} == set(MOODS)


def test_what_leads_and_what_stands_beside_contrast():
    for each in every():
        one, other = hue_of(each.main), hue_of(each.beside)
        white = "white" in MOODS[each.mood][:2]
        assert white or one is None or other is None or abs((one - other + 180) % 360 - 180) > APART


def test_looks_are_told_apart_by_the_hue_that_leads():
    found = {each.mood: each for each in every()}
    assert not apart(found["night"], found["night"])
    assert not apart(found["ember"], found["brass"])
    assert apart(found["night"], found["ember"])
    assert apart(found["snow"], found["night"])
    assert not apart(found["snow"], found["snow"])


def test_colours_asked_for_keep_their_hues_and_each_leads_once():
    found = choices([["#ffd9a0", "#3060ff"]])
    assert len(found) == 2
    for each, wanted in zip(found, ("#ffd9a0", "#3060ff"), strict=True):
        assert abs((hue(each.main) - hue(wanted) + 180) % 360 - 180) < 6


def test_what_sweeps_is_of_a_hue_that_no_part_at_home_in_its_scheme_has():
    for scheme in range(len(SCHEMES)):
        at_home = [each for each in choices((), scheme) if each.mood not in AWAY]
        assert not [
            each for each in at_home if close(third((), scheme), each.main) or close(third((), scheme), each.beside)
        ]


def test_what_sweeps_is_one_of_the_colours_asked_for():
    assert third([["green", "navy"]]) in {each.main for each in choices([["green", "navy"]])}


def test_one_colour_alone_and_white_can_be_asked_for():
    assert [each.main for each in choices([["white"]])]
    assert choices([["gold"]])[0].main == choices([["gold"]])[0].beside


def test_every_mood_can_lead():
    for each in every():
        assert luminance(lighter(each.main)) > luminance(each.main) > luminance(each.deep)


def test_yellow_is_amber_to_lemon():
    assert [name for name in ("red", "orange", "gold", "yellow", "lime", "white", "blue") if yellow(name)] == [
        "orange", "gold", "yellow"
    ]  # fmt: skip


def test_white_has_all_luminance():
    assert luminance("white") == pytest.approx(1.0)
