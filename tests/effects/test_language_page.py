"""The page about the effect language: its tables are those of the compiler, and its examples run.

``python tests/effects/test_language_page.py`` writes the tables anew.
"""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from eavesong.kernels import exact
from eavesong.language import effect_names, load_effect, parse_effect
from eavesong.language.builtins import FRAME_INPUTS, FUNCTIONS, OPERATIONS, PIXEL_INPUTS
from eavesong.language.effect import LARGEST_LOOP, MOST_PARAMETERS
from eavesong.language.graph import LARGEST_GRAPH
from eavesong.language.parse import DEEPEST, LONGEST_CODE
from eavesong.layout import Layout
from support import cue, even_grid, line, points, reference

PAGE = Path(__file__).parents[2] / "docs" / "language.md"
BLOCK = re.compile(r"(<!-- (\w+): written by [^\n]*-->\n)(.*?)(<!-- end -->)", re.DOTALL)


def inputs_table() -> str:
    """Every input with its unit and meaning, as the compiler knows them."""
    lines = []
    for title, inputs in (("Read once a frame", FRAME_INPUTS), ("Read once a pixel", PIXEL_INPUTS)):
        lines += [f"| {title} | unit | |", "|---|---|---|"]
        lines += [f"| `{entry.name}` | {entry.unit.replace('-', '')} | {entry.about} |" for entry in inputs]
        lines.append("")
    return "\n".join(lines)


def functions_table() -> str:
    """Every function with its arguments and meaning; those that are not GLSL's stand apart."""
    lines = []
    for title, wanted in (("As in GLSL", True), ("eavesong's own", False)):
        lines += [f"| {title} | |", "|---|---|"]
        lines += [
            f"| `{function.signature}` | {function.about} |"
            for function in FUNCTIONS.values()
            if function.source.startswith("GLSL") is wanted
        ]
        lines.append("")
    return "\n".join(lines)


TABLES = {"inputs": inputs_table, "functions": functions_table}


@pytest.mark.parametrize("name", TABLES)
def test_the_tables_are_those_of_the_compiler(name: str) -> None:
    written = {found[2]: found[3] for found in BLOCK.finditer(PAGE.read_text())}
    assert written[name].strip() == TABLES[name]().strip()


def _examples() -> list[str]:
    return re.findall(r"```toml\n(title = .*?)```", PAGE.read_text(), re.DOTALL)


def test_the_page_has_its_examples() -> None:
    assert len(_examples()) == 6


@pytest.mark.parametrize("number", range(6))
def test_the_examples_light_something(number: int, small_house: Layout, drums: object) -> None:
    effect = parse_effect(_examples()[number], "example", "docs/language.md")
    seconds = np.arange(0.1, 15, 0.37)
    light = reference([cue(effect, small_house, even_grid())], small_house, seconds, drums)
    assert 0.2 < light.max() <= 1


@pytest.mark.parametrize("pixels", [7, 100])
@pytest.mark.parametrize(
    ("shape", "light"),
    [
        ("band(x, 0.5, 0.06)", 8 / 15 * 0.06),
        ("box(x, 0.5, 0.06)", 0.06),
        ("tail(x, 0.5, 0.06)", 0.06 / 3),
        ("stripes(3 * x, 0.2)", 0.2),
    ],
)
def test_shapes_give_the_light_that_the_page_says(shape: str, light: float, pixels: int) -> None:
    """The integrals of (1 - q²)², 1 and s², worked out by hand, on a wire from end to end of the house."""
    shown = reference([cue(shape, points(line(pixels)), even_grid())], points(line(pixels)), np.zeros(1))
    assert shown.mean() == pytest.approx(light, rel=1e-5)
    assert f"`{shape.partition('(')[0]}(" in PAGE.read_text()


def test_the_limits_are_those_of_the_compiler() -> None:
    text = re.sub(r"\s+", " ", PAGE.read_text())
    assert f"at most {LONGEST_CODE:,} characters" in text
    assert f"at most {DEEPEST} levels deep" in text
    assert f"may weigh {LARGEST_LOOP}, where" in text
    assert f"at most {LARGEST_GRAPH:,} values" in text
    assert f"up to {MOST_PARAMETERS} |" in text
    weights = [OPERATIONS[name].cost for name in ("add", "sin", "pow", "noise3")]
    assert "an addition weighs {}, a sine {}, a power {} and a `noise` of three numbers {}".format(*weights) in text


def test_shipped_effects_weigh_less_than_a_sixth_of_the_limit() -> None:
    programs = [load_effect(name).program for name in effect_names()]
    assert max(program.graph.cost(set(program.loop)) for program in programs) < LARGEST_LOOP / 6


def test_nothing_fails_as_the_page_says() -> None:
    assert exact.divide(np.float64(3), np.float64(0)) == 0
    assert exact.sqrt(np.float64(-1)) == 0
    assert np.isfinite(exact.log(np.float64(0)))


if __name__ == "__main__":
    text = PAGE.read_text()
    PAGE.write_text(BLOCK.sub(lambda found: found[1] + TABLES[found[2]]().rstrip("\n") + "\n" + found[4], text))
