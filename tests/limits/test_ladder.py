"""The ladder against closed forms, and against Kirchhoff's laws written out in full."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavesong.limits.ladder import Ladder


def even(count, ohms, points, leads=None):
    """A string of ``count`` pixels whose whole loop has ``ohms``, half a step of it before the first pixel."""
    points = np.array(points)
    leads = np.zeros(len(points)) if leads is None else np.array(leads, float)
    return Ladder(12.0, np.full(count - 1, ohms / count), points, leads)


def test_a_uniform_load_fed_from_one_end_drops_half_of_all_current_times_all_resistance():
    # Textbook integral: I R / 2 at the far end. For n lumps: I R (n - 1) / (2 n).
    drops = even(1000, 2.0, [0]).drops(np.full(1000, 5 / 1000))
    assert drops[-1] == pytest.approx(5 * 2.0 / 2, rel=2e-3)
    assert drops[-1] == pytest.approx(5 * 2.0 / 2 * 999 / 1000, rel=1e-9)


def test_a_uniform_load_fed_from_both_ends_drops_an_eighth_in_the_middle():
    # Textbook integral: I R / 8.
    drops = even(1001, 2.0, [0, 1000]).drops(np.full(1001, 5 / 1001))
    assert drops.argmax() == 500
    assert drops.max() == pytest.approx(5 * 2.0 / 8, rel=3e-3)
    assert drops[[0, -1]] == pytest.approx([0, 0], abs=1e-9)


def test_one_load_at_the_end_of_a_line_is_ohms_law():
    ladder = Ladder(12.0, np.full(9, 0.1), np.array([0]), np.array([0.4]))
    loads = np.zeros(10)
    loads[-1] = 2.0
    assert ladder.voltages(loads)[-1] == pytest.approx(12 - 2 * (0.4 + 9 * 0.1))


def test_a_lead_and_a_string_of_the_worked_low_voltage_example():
    # 12 V, 3 A, 20 ft one way, 18 AWG solid at 20 °C: 0.766 V (textbook loop formula, printed wire table).
    from eavesong.layout.kinds import Conductor
    from eavesong.limits.copper import loop_ohms

    lead = loop_ohms(Conductor(gauge=18, copper="solid"), 20 * 0.3048)
    ladder = Ladder(12.0, np.zeros(0), np.array([0]), np.array([lead]))
    assert ladder.voltages([3.0])[0] == pytest.approx(12 - 0.766, abs=5e-4)


strings = st.integers(2, 12).flatmap(
    lambda n: st.tuples(
        st.lists(st.floats(0.001, 2), min_size=n - 1, max_size=n - 1),
        st.lists(st.floats(0, 1), min_size=n, max_size=n),
        st.dictionaries(st.integers(0, n - 1), st.sampled_from([0.0, 0.05, 0.3, 2.0]), min_size=1, max_size=4),
    )
)


@given(strings)
def test_it_is_the_dense_solution_of_kirchhoffs_current_law(string):
    links, loads, leads = (np.array(part) if isinstance(part, list) else part for part in string)
    n = len(loads)
    ladder = Ladder(12.0, links, np.array(sorted(leads)), np.array([leads[p] for p in sorted(leads)]))
    matrix, right = np.zeros((n, n)), loads.copy()
    for i, ohms in enumerate(links):
        matrix[i, i] += 1 / ohms
        matrix[i + 1, i + 1] += 1 / ohms
        matrix[i, i + 1] -= 1 / ohms
        matrix[i + 1, i] -= 1 / ohms
    for point, ohms in leads.items():
        if ohms:
            matrix[point, point] += 1 / ohms
    for point, ohms in leads.items():
        if not ohms:
            matrix[point], right[point] = np.eye(n)[point], 0
    drops = ladder.drops(loads)
    assert drops == pytest.approx(np.linalg.solve(matrix, right), abs=1e-6)
    assert ladder.lead_amperes(loads).sum() == pytest.approx(loads.sum(), abs=1e-6)


@given(strings, st.floats(0.1, 10))
def test_drops_grow_with_the_load_and_add_up(string, k):
    links, loads, leads = string
    points = np.array(sorted(leads))
    ladder = Ladder(12.0, np.array(links), points, np.array([leads[p] for p in sorted(leads)]))
    drops = ladder.drops(loads)
    assert ladder.drops(k * np.array(loads)) == pytest.approx(k * drops, rel=1e-6, abs=1e-9)
    half = np.array(loads) * (np.arange(len(loads)) % 2)
    assert ladder.drops(half) + ladder.drops(np.array(loads) - half) == pytest.approx(drops, rel=1e-6, abs=1e-9)


@given(strings)
def test_another_feed_never_makes_a_pixel_darker(string):
    links, loads, leads = string
    points = np.array(sorted(leads))
    before = Ladder(12.0, np.array(links), points, np.array([leads[p] for p in sorted(leads)])).drops(loads)
    free = [p for p in range(len(loads)) if p not in leads]
    if free:
        more = leads | {free[0]: 0.1}
        after = Ladder(12.0, np.array(links), np.array(sorted(more)), np.array([more[p] for p in sorted(more)]))
        assert (after.drops(loads) <= before + 1e-9).all()


def flows(ladder, loads):
    """Amperes through each link: Ohm's law on the drops."""
    return np.diff(ladder.drops(loads)) / ladder.links


@settings(max_examples=40)
@given(strings.filter(lambda string: len(string[1]) <= 7))
def test_the_most_that_a_link_carries_is_the_most_over_all_sets_of_lit_pixels(string):
    """Every one of the 2**n sets is tried."""
    links, loads, leads = string
    points = np.array(sorted(leads))
    ladder = Ladder(12.0, np.array(links), points, np.array([leads[p] for p in sorted(leads)]))
    n = len(loads)
    sets = (np.arange(2**n)[:, None] >> np.arange(n)) & 1
    tried = np.array([np.abs(flows(ladder, lit * np.array(loads))) for lit in sets])
    assert ladder.most_flows(loads) == pytest.approx(tried.max(axis=0), rel=1e-5, abs=1e-6)


@given(strings)
def test_no_lead_carries_more_than_with_all_pixels_lit(string):
    links, loads, leads = string
    points = np.array(sorted(leads))
    ladder = Ladder(12.0, np.array(links), points, np.array([leads[p] for p in sorted(leads)]))
    some = np.array(loads) * (np.arange(len(loads)) % 3 > 0)
    assert (ladder.lead_amperes(some) <= ladder.lead_amperes(loads) + 1e-6).all()
