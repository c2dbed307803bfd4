"""Which kind each pixel is, and whether anything says so."""

import numpy as np

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
