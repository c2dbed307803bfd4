"""No effect uses unbounded time or memory: the largest that are taken, and the first that are not."""

import time

import numpy as np
import pytest

from eavesong.errors import EffectError
from eavesong.language.effect import LARGEST_LOOP, MOST_PLANES
from eavesong.language.evaluate import evaluate
from eavesong.language.graph import LARGEST_GRAPH
from support import WHITE, bytes_of, effect, level_of, line, points


def chain(step, count):
    """``step`` count times over, each of the one before."""
    lines = "\n".join(f"a{i + 1}={step.replace('{}', f'a{i}').replace('#', str(i))}" for i in range(count))
    return f"a0=x+t\n{lines}\nlevel=a{count}{WHITE}"


LARGEST = {
    "noise": ("noise({},y,z)", 14),
    "sums": ("{}+{}*x", 295),
    "sines": ("sin({}*x)", 118),
    "hashes": ("hash({}*x,{})", 84),
    "powers": ("{}**y", 48),
    "remainders": ("{}%y+t", 295),
    "bands": ("{}+band(x,t*#,0.2)", 22),
    "smoothsteps": ("smoothstep({},y,t)", 250),
}
"""Programs near the limit of weight, or of the code's length."""


@pytest.mark.parametrize("kind", LARGEST)
def test_large_programs_are_taken_whatever_they_are_made_of(kind):
    """How long they take to compile, ``tests/benchmarks/largest.py`` says."""
    assert 0.4 * LARGEST_LOOP < effect(chain(*LARGEST[kind])).program.weight <= LARGEST_LOOP


def refusal(code):
    with pytest.raises(EffectError) as caught:
        effect(code)
    (problem,) = caught.value.problems
    assert problem.place == "code"
    assert problem.instead
    return problem.found


@pytest.mark.parametrize(
    ("step", "count", "share"), [("noise({},y,z)", 30, "2.0"), ("sin({}*x)", 200, "1.7"), ("{}**y", 60, "1.2")]
)
def test_a_loop_that_is_too_heavy_is_refused(step, count, share):
    assert refusal(chain(step, count)) == f"the code is {share} times as large as may be compiled"


@pytest.mark.parametrize(
    ("step", "count"), [("fwidth(sin({}))", 12), ("band({},{},{})", 40), ("band(sin({}),0,1)", 300)]
)
def test_footprints_of_footprints_are_refused_while_they_grow(step, count):
    assert "the code " in refusal(chain(step, count))


def test_values_at_every_pixel_have_a_limit():
    assert effect(chain("{}*t+x**#.5", MOST_PLANES - 1)).program.planes
    found = refusal(chain("{}*t+x**#.5", 2 * MOST_PLANES))
    assert found.startswith(f"the code needs {2 * MOST_PLANES + 1} values at every pixel that only place decides")


def test_long_chains_are_no_deep_recursion():
    """As many lines as fit, one built on the other, with a footprint and a period of the last."""
    code = "a0=x+t\n" + "\n".join(f"a{i + 1}=a{i}+1" for i in range(520)) + f"\nlevel=band(fract(a520),0,1){WHITE}"
    assert len(effect(code).program.graph.nodes) < LARGEST_GRAPH


def test_doubling_the_same_value_is_no_doubling_of_work():
    """Forty lines of a = a + a are a million million terms, were they not shared."""
    code = "a0=x+t\n" + "\n".join(f"a{i + 1}=a{i}+a{i}" for i in range(40)) + f"\nlevel=sin(a40)+fwidth(a40){WHITE}"
    begun = time.process_time()
    program = effect(code).program
    assert time.process_time() - begun < 1
    assert len(program.graph.nodes) < 400


def test_values_are_not_kept_longer_than_they_are_needed():
    """A house of a million pixels has 8 MB of each; of a chain of sixty, two or three stand at a time."""
    import tracemalloc

    program = effect(chain("sin({})*x", 60).replace("a0=x+t", "a0=x+y")).program
    places = {name: np.full((1, 100_000), 0.5) for name in ("x", "y")}
    from eavesong.language.evaluate import Surroundings

    tracemalloc.start()
    evaluate(program.graph, program.outputs, Surroundings({}, places))
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 8 * 800_000


def test_numbers_up_to_the_largest_are_taken():
    assert (bytes_of("x * 1e30 > 1e29", points(line(10)))[0, 1:] == 255).all()
    with pytest.raises(EffectError, match="larger than 1e30"):
        level_of("x * 1.1e30")
