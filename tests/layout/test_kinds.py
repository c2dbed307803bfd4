"""Generic kinds of pixels against what datasheets say of their chips."""

import pytest

from eavesong.layout.kinds import GENERIC, USUAL, Conductor


@pytest.mark.parametrize(
    ("name", "amperes"),
    [
        ("5 V, 18.5 mA", 0.0565),  # WS2811 datasheet: 18.5 mA at each of three outputs; idle 1 mA (from memory)
        ("12 V, 18.5 mA", 0.0565),  # the same chip: three diodes in series share one output's current
        ("5 V, 12 mA", 0.0366),  # WS2812B-V5, as secondary texts quote it: 12 mA a colour, 0.6 mA idle
    ],
)
def test_full_white_draws_every_output_and_the_chip(name, amperes):
    assert GENERIC[name].full == pytest.approx(amperes)


def test_nothing_said_means_the_kind_that_draws_most():
    assert max(GENERIC.values(), key=lambda kind: kind.full * kind.volts if kind.volts == 5 else 0).name == USUAL


def test_a_bit_takes_what_800_kilobits_a_second_leave():
    assert {kind.bit_time for kind in GENERIC.values()} == {1e6 / 800_000}


@pytest.mark.parametrize(
    ("wire", "words"),
    [
        (Conductor(gauge=18), "AWG 18 stranded"),
        (Conductor(area=0.75, copper="solid"), "0.75 mm² solid"),
        (Conductor(ohms_per_metre=0.02, gauge=18), "0.02 ohm/m"),
    ],
)
def test_a_conductor_is_called_by_what_counts(wire, words):
    assert str(wire) == words
