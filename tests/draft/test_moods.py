"""Colours: what lights can show, no pure red that comes and goes, and other hues for other parts."""

import random

import pytest

from eavesong.colours import linear_to_oklab, oklab_to_oklch, parse_colour
from eavesong.draft.moods import APART, MOODS, colours_for, luminance, towards

SATURATED = 0.8
"""R / (R + G + B) of linear light from which a red is saturated (WCAG 2.2, red flash)."""


def hue(colour: str) -> float:
    return float(oklab_to_oklch(linear_to_oklab(parse_colour(colour)))[2])


def test_no_colour_is_a_saturated_red():
    for seed in range(30):
        for each in colours_for({"a": 0, "b": 1, "c": 2}, [["red", "#c00010"], ["crimson"]][: seed % 3],
                                random.Random(seed)).values():  # fmt: skip
            for colour in (each.main, each.beside, each.light, each.deep):
                red, green, blue = parse_colour(colour)
                assert red / (red + green + blue) < SATURATED


def test_levels_differ_in_hue_and_letters_of_a_level_share_their_colours():
    for seed in range(20):
        found = colours_for({"a": 0, "b": 1, "c": 2, "d": 2}, (), random.Random(seed))
        mains = [found[letter].hue for letter in "abc"]
        for one in range(3):
            for other in range(one):
                away = abs((mains[one] - mains[other] + 180) % 360 - 180)
                assert away >= APART
        assert {found["c"].main, found["c"].beside} == {found["d"].main, found["d"].beside}
        assert found["c"].main != found["d"].main


def test_colours_asked_for_keep_their_hues():
    found = colours_for({"a": 0}, [["#ffd9a0", "#3060ff"]], random.Random(1))["a"]
    hues = {round(hue(found.main)), round(hue(found.beside))}
    for wanted in ("#ffd9a0", "#3060ff"):
        assert min(abs(hue(wanted) - each) for each in hues) < 6


def test_every_mood_is_light_enough_to_lead():
    for seed in range(len(MOODS)):
        each = colours_for({"a": 0}, (), random.Random(seed))["a"]
        assert luminance(each.light) > luminance(each.main) > luminance(each.deep)


def test_white_has_all_luminance():
    assert luminance("white") == pytest.approx(1.0)


def test_a_hue_is_turned_towards_another_by_the_shorter_way():
    blue, yellow = "#4060a0", "#a08030"
    near = towards(blue, yellow, 30.0)
    assert abs(abs((hue(near) - hue(blue) + 180) % 360 - 180) - 30) < 3
    assert abs((hue(near) - hue(yellow) + 180) % 360 - 180) < abs((hue(blue) - hue(yellow) + 180) % 360 - 180)
    assert hue(towards(blue, "#4070a0", 90.0)) == pytest.approx(hue("#4070a0"), abs=3)
