"""Eyes that look at some pixels only, or begin anew, judge as those that look at all of them from the start."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import films
from eavesong.kernels.eyes import Eyes
from eavesong.within.eyes import eyes_of
from eavesong.within.rig import rig_of

HOUSE = films.screen()
RIG = rig_of(HOUSE)
SECOND = 40


def opened() -> Eyes:
    return eyes_of(HOUSE, RIG, float(SECOND))


@settings(max_examples=20, deadline=None)
@given(kind=st.sampled_from(films.KINDS), seed=st.integers(0, 9999), cut=st.integers(1, 100))
def test_some_pixels_are_judged_as_all_are(kind: str, seed: int, cut: int) -> None:
    random = np.random.default_rng(seed)
    film = films.film(random, kind, HOUSE.pixel_count, 160)
    _, before = opened().on(film[:cut])
    everything, after = before.on(film[cut:130])
    chosen = np.flatnonzero(random.random(HOUSE.pixel_count) < 0.3)
    some, knows_some = before.on(film[cut:130], chosen=chosen)
    assert np.array_equal(some.pixels[:, :, chosen] > 0, everything.pixels[:, :, chosen] > 0)
    assert not np.delete(some.pixels, chosen, axis=2).any()
    assert np.array_equal(some.parts, everything.parts)
    later, afresh = after.on(film[130:])[0], knows_some.on(film[130:])[0]
    assert np.array_equal(later.pixels > 0, afresh.pixels > 0)
    assert np.array_equal(later.parts, afresh.parts)


def test_light_of_parts_that_is_known_is_not_mixed_again() -> None:
    film = films.film(np.random.default_rng(2), "in turn", HOUSE.pixel_count, 100)
    eyes = opened()
    mixed = eyes.mixed(film, lambda work, numbers: [work(number) for number in numbers], 3)
    plain, given_light = eyes.on(film)[0], eyes.on(film, mixed=mixed)[0]
    assert np.array_equal(plain.parts, given_light.parts)
    assert not np.array_equal(eyes.on(film, mixed=np.zeros_like(mixed))[0].parts, plain.parts)


def test_pixels_looked_at_by_themselves_flash_in_the_same_frames() -> None:
    film = films.film(np.random.default_rng(3), "strobe", HOUSE.pixel_count, 140)
    _, before = opened().on(film[:60])
    over = (before.on(film[60:])[0].pixels > 0).any(axis=0)
    assert over.any()
    found, _ = before.some(np.array([3, 70])).look(film[20:], 80)
    assert np.array_equal(found, over[:, [3, 70]])


def test_eyes_that_looked_at_some_do_not_tell_the_most() -> None:
    film = films.film(np.random.default_rng(4), "jumps", HOUSE.pixel_count, 50)
    _, eyes = opened().on(film, chosen=np.zeros(0, np.intp))
    with pytest.raises(AssertionError, match="looked at all pixels"):
        _ = eyes.most
