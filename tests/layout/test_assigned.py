"""Which kind each pixel is, and whether anything says so."""

import numpy as np
import pytest

from eavesong.errors import LayoutError
from powered import LINE

OWN = '[[pixel_type]]\nname = "own"\nvolts = 5\namperes = [0.01, 0.01, 0.01]\n'
UNSAID = LINE.replace('[power]\npixel_type = "5 V, 20 mA"\n', "")


def test_the_kind_of_the_house_says_it_of_every_pixel(layout_of):
    assert not layout_of(LINE).power.taken_for_granted.any()


def test_without_a_kind_nothing_is_said(layout_of):
    assert layout_of(UNSAID).power.taken_for_granted.all()


def test_a_link_says_it_of_its_own_pixels(layout_of):
    text = UNSAID.replace('["eaves"]', '[{ prop = "eaves", pixels = [1, 40], pixel_type = "own" }, '
                          '{ prop = "eaves", pixels = [41, 100] }]')  # fmt: skip
    power = layout_of(text + OWN).power
    assert np.array_equal(power.taken_for_granted, np.arange(100) >= 40)
    assert power.types[power.type[0]].name == "own"


@pytest.mark.parametrize(
    ("kind", "advice"),
    [("12V", "Did you mean '12 V, 18.5 mA'?"), ("WS-like", "Known kinds: '12 V, 18.5 mA'; '5 V, 12 mA'; ")],
)
def test_an_unknown_kind_is_told_once_and_nothing_of_its_volts(layout_of, kind, advice):
    """A supply of 12 V would not suit the usual pixels of 5 V; nobody said that they are that."""
    supply = (
        '[[supply]]\nname = "s"\nvolts = 12\nwatts = 200\n[[supply.feed]]\ncontroller = "{controller}"\noutput = 1\n'
    )
    controller = LINE.partition('[[controller]]\nname = "')[2].partition('"')[0]
    text = LINE.replace('"5 V, 20 mA"', f'"{kind}"') + supply.format(controller=controller)
    with pytest.raises(LayoutError) as refused:
        layout_of(text)
    (problem,) = refused.value.problems
    assert problem.found == f"no kind of pixel is called '{kind}'"
    assert problem.instead.startswith(advice)
