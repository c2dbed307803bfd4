"""Graphs of numbers: equal values are one node, rates go downstream, growth ends."""

import math

import pytest

from eavesong.language.builtins import BOTH, CONSTANT, FRAME, PIXEL
from eavesong.language.graph import LARGEST_GRAPH, Graph, TooLargeError


def test_equal_values_are_one_node() -> None:
    graph = Graph()
    x, two = graph.read("input", "x"), graph.literal(2.0)
    assert graph.add("mul", x, two) == graph.add("mul", x, graph.literal(2.0))
    assert graph.add("mul", two, x) != graph.add("mul", x, two)
    assert len(graph.nodes) == 4


def test_a_value_is_of_the_rates_of_all_it_is_made_of() -> None:
    graph = Graph(moving=frozenset({"width"}))
    x, beat = graph.read("input", "x"), graph.read("input", "beat")
    still, moving = graph.read("parameter", "angle"), graph.read("parameter", "width")
    rates = [
        graph.rates[node] for node in (x, beat, still, moving, graph.add("add", x, beat), graph.add("add", x, still))
    ]
    assert rates == [PIXEL, FRAME, CONSTANT, FRAME, BOTH, PIXEL]


def test_what_is_no_number_or_too_large_is_held() -> None:
    graph = Graph()
    assert graph.number(graph.literal(math.nan)) == 0.0
    largest = graph.number(graph.literal(math.inf))
    assert largest is not None
    assert math.isfinite(largest)
    assert graph.number(graph.literal(-math.inf)) == -largest
    assert graph.number(graph.read("input", "x")) is None


def test_only_what_is_needed_is_named() -> None:
    graph = Graph()
    x, y = graph.read("input", "x"), graph.read("input", "y")
    total, spare = graph.add("add", x, x), graph.add("add", y, y)
    assert graph.needed((total,)) == {x, total}
    assert spare not in graph.needed((total,))


def test_each_node_is_settled_once_however_deep() -> None:
    graph = Graph()
    node = graph.read("input", "x")
    for _ in range(3000):  # deeper than Python calls itself
        node = graph.add("sqrt", node)
    asked: list[int] = []
    known: dict[int, int] = {}

    def depth(here: int) -> int:
        asked.append(here)
        return 1 + max((known[other] for other in graph.nodes[here].arguments), default=0)

    assert graph.settle(node, known, lambda here: graph.nodes[here].arguments, depth) == 3001
    assert len(asked) == len(set(asked))


def test_a_graph_that_grows_without_end_is_ended() -> None:
    graph = Graph()
    for number in range(LARGEST_GRAPH):
        graph.literal(float(number))
    assert graph.literal(0.0) == 0  # what is known needs no room
    with pytest.raises(TooLargeError):
        graph.literal(0.5)
