"""What is explained of an effect is what is compiled."""

from eavesong.language import parse_effect
from eavesong.language.emit import emit
from eavesong.language.explain import explain

EFFECT = """
title = "Shades"
about = "A rising shade."
[parameters]
beats = { default = 4, min = 1, max = 8 }
code = '''
swing = fract(beat / beats)
rise = sqrt(y)
level = clamp(rise - swing, 0, 1)
colour = hex("#ffffff")
'''
"""


def test_each_value_stands_where_it_is_computed() -> None:
    effect = parse_effect(EFFECT.replace('hex("#ffffff")', "rgb(1, x, 0)"), "shades", "shades")
    told = explain(effect)
    frame, pixel = told.index("Once per frame"), told.index("Once per pixel of a house")
    loop = told.index("compiled by LLVM")
    assert told.startswith("Shades: ")
    assert frame < told.index("swing = ") < pixel < told.index("rise = sqrt(y)") < loop
    assert told.index("beat") < pixel


def test_the_source_that_is_shown_is_the_one_that_is_compiled() -> None:
    effect = parse_effect(EFFECT.replace('hex("#ffffff")', "rgb(1, x, 0)"), "shades", "shades")
    assert explain(effect).endswith(emit(effect.program, effect.title))


def test_an_effect_without_values_of_a_rate_has_no_heading_for_it() -> None:
    text = 'title = "Even"\nabout = "One colour."\ncode = """level = 1\ncolour = rgb(1, 0, 0)"""'
    told = explain(parse_effect(text, "even", "even"))
    assert "Once per frame" not in told
    assert "Once per pixel of a house" not in told
    assert "compiled by LLVM" in told
