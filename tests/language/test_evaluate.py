"""The value of a graph in float64: shapes by rate, and values worked out by hand."""

import numpy as np

from eavesong.language.evaluate import Surroundings, evaluate
from support import level_of


def test_shapes_follow_rates():
    program = level_of("x * beat + 1").program
    around = Surroundings(parameters={}, inputs={"x": np.array([[0.0, 0.5, 1.0]]), "beat": np.array([[2.0], [4.0]])})
    level = evaluate(program.graph, program.outputs[:1], around)[program.outputs[0]]
    np.testing.assert_array_equal(np.broadcast_to(level, (2, 3)), [[1, 2, 3], [1, 3, 5]])


def test_only_what_is_wanted_is_given_back():
    program = level_of("x").program
    around = Surroundings(parameters={}, inputs={"x": np.zeros((1, 2))})
    assert list(evaluate(program.graph, program.outputs[:1], around)) == [program.outputs[0]]
