"""Rows of cues: what is drawn often is compiled as a whole, and gives the same bytes."""

import numpy as np
import pytest

from eavesong.easing import LINEAR
from eavesong.engines.numba import Drawing, rows
from eavesong.kernels.exact import TILE
from eavesong.kernels.planes import MOST
from eavesong.language.emit import emit
from eavesong.scene.timeline import Span
from support import cue, even_grid, level_of, line, points, scene_on

GRID = even_grid(120, bars=4)
HOUSE = points(line(2 * TILE + 40))


def some_cues(count):
    """Cues on parts of the house, that begin and end at different times."""
    chance = np.random.default_rng(2)
    made = []
    for number in range(count):
        weight = np.zeros(HOUSE.pixel_count, np.float32)
        weight[slice(*np.sort(chance.integers(0, HOUSE.pixel_count, 2)))] = 1
        begin = float(chance.random())
        span = Span(begin, begin + 1.0, 0.3, 0.2, LINEAR, LINEAR, True)
        blend = ("source-over", "screen", "multiply")[number % 3]
        made.append(cue(f"fract({number + 2} * x + beat)", HOUSE, GRID, weight=weight, blend=blend, spans=(span,)))
    return made


def drawn(count, monkeypatch, worth, kept):
    monkeypatch.setattr(rows, "WORTH", worth)
    monkeypatch.setattr(rows, "is_kept", lambda *sources: kept)
    drawing = Drawing(scene_on(some_cues(count), HOUSE, grid=GRID))
    return [drawing.block(0, 90) for _ in range(2)][1]


@pytest.mark.parametrize("count", [1, 3, 2 * MOST + 3])
def test_rows_drawn_as_a_whole_have_the_same_bytes(count, monkeypatch):
    """One cue, several, more than one step holds; by themselves, kept from before, and after some frames."""
    by_themselves = drawn(count, monkeypatch, 1 << 60, False)
    assert by_themselves.any()
    np.testing.assert_array_equal(drawn(count, monkeypatch, 1 << 60, True), by_themselves)
    np.testing.assert_array_equal(drawn(count, monkeypatch, 0, False), by_themselves)


def test_a_row_is_compiled_as_a_whole_once_it_was_drawn_often(monkeypatch):
    monkeypatch.setattr(rows, "WORTH", 10 * TILE)
    monkeypatch.setattr(rows, "is_kept", lambda *sources: False)
    reach = np.ones((2, 3), np.int8)
    made = rows.Rows([(emit(level_of(f"x * {n} * beat").program, "T"),) * 2 for n in (2, 3)], reach, ~reach.any(axis=0))
    plan = made.plan(np.array([True, True]))
    assert [len(row.parts) for row in plan.rows] == [4]
    made.count(plan, 3, 0, 3)
    assert made.plan(np.array([True, True])) is plan
    made.count(plan, 1, 0, 3)
    assert [len(row.parts) for row in made.plan(np.array([True, True])).rows] == [1]


def test_tiles_that_the_same_cues_light_are_one_row():
    """As far as each lights them wholly or in part, and they end alike."""
    reach = np.array([[2, 2, 0, 0, 1, 2], [2, 2, 2, 0, 2, 2]], np.int8)
    made = rows.Rows([("", "")] * 2, reach, np.arange(6) == 5)
    asked = []
    made._row = lambda lit, end: asked.append((*lit, end)) or rows.Row((), (), [], True)
    plan = made.plan(np.array([True, True]))
    both, one = ((0, 2), (1, 2)), ((1, 2),)
    wanted = [*((*cues, rows.STEPS) for cues in (both, both, one, (), ((0, 1), (1, 2)))), (*both, rows.BYTES)]
    assert [asked[row] for row in plan.row_of] == wanted
    assert made.plan(np.array([True, True])) is plan
