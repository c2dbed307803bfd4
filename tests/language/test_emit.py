"""Kernels are readable Python of fixed words and the author's names, none of which can clash."""

import ast

import numpy as np
import pytest

from eavesong.errors import EffectError
from eavesong.kernels import exact
from eavesong.language.emit import emit
from support import WHITE, effect, level_of, light_compiled, light_exact, surroundings

AROUND = surroundings({"beat": [0.0, 1.3], "t": [0.5, 7.7]}, {"x": np.linspace(0, 1, 101), "y": np.linspace(1, 0, 101)})

TRICKY = [
    "range", "f", "fast", "blend_fast", "load", "store", "n", "v1", "v3", "v3_", "v12", "light", "light_", "weight",
    "alpha", "planes", "scalars", "strength", "kernel", "r", "g", "b", "sr", "mr", "TILE", "KERNEL", "tile", "np",
    "numba", "x_step_along", "x_step_across", "level_r", "colour_r", "tint_0", "int", "float", "exec", "self", "module",
]  # fmt: skip


def coded(names):
    """Code that uses every name, in sums whose order shows which is which."""
    lines = [f"{name} = x * beat * {index + 1}" for index, name in enumerate(names)]
    half = len(names) // 2
    lines += [f"first = {' + '.join(names[:half])}", f"second = {' + '.join(names[half:])}"]
    total = "first + second"
    return "\n".join([*lines, f"level = sin({total}) * 0.5 + 0.5 + band(x * t, beat, 0.3)", "colour = tint * level"])


def test_no_name_an_author_may_choose_breaks_the_kernel():
    what = effect(coded(TRICKY), 'tint = { default = "red" }')
    around = surroundings(
        {"beat": [0.0, 1.3], "t": [0.5, 7.7]},
        {"x": np.linspace(0, 1, 101)},
        {"tint.0": 1.0, "tint.1": 0.5, "tint.2": 0.0},
        step={"x": 0.01},
    )
    np.testing.assert_allclose(light_compiled(what, around), light_exact(what, around), atol=2e-4)


def assigned(source):
    """Every name set in a kernel, as often as it is set."""
    targets = (
        target for node in ast.walk(ast.parse(source)) if isinstance(node, ast.Assign) for target in node.targets
    )
    return sorted(name.id for target in targets for name in ast.walk(target) if isinstance(name, ast.Name))


def source_with(name):
    return emit(level_of(f"fract(x + {name} * beat) + 0.1 * {name}", f"{name} = {{ default = 2 }}").program, "T")


@pytest.mark.parametrize("name", TRICKY)
def test_a_parameter_of_such_a_name_takes_no_other_name_away(name):
    """The kernel sets as many names, as often, as where the parameter has a plain one."""
    plain, tricky = assigned(source_with("plain")), assigned(source_with(name))
    assert (len(tricky), len(set(tricky))) == (len(plain), len(set(plain)))


@pytest.mark.parametrize("word", ["if", "for", "None", "True", "lambda", "import", "class", "def"])
def test_words_of_python_are_no_names(word):
    with pytest.raises(EffectError, match="line 4, column"):
        effect(f"{word} = 1\nlevel = x{WHITE}")


@pytest.mark.parametrize("title", ['"""', "\\", "a\nimport os", "{}{0}", "% s", "Gärten ☃", "'" * 9, "x\\N{DASH}"])
def test_a_title_cannot_leave_its_comment(title):
    tree = ast.parse(emit(level_of("x * beat").program, title))
    assert [type(node).__name__ for node in tree.body] == [
        "Expr",
        "ImportFrom",
        "ImportFrom",
        "ImportFrom",
        "FunctionDef",
    ]


def test_a_kernel_is_made_of_loads_lanes_and_stores():
    source = emit(level_of("band(x, fract(beat), 0.2) * 3").program, "Sweep")
    (function,) = (node for node in ast.parse(source).body if isinstance(node, ast.FunctionDef))
    calls = {ast.unparse(node.func) for node in ast.walk(function) if isinstance(node, ast.Call)}
    known = {"load", "store", "tile", "f"}
    assert calls <= known | {name for name in calls if name.startswith(("fast.", "blend_fast."))}
    assert "        level = " in source


EVERY_FUNCTION = """
a = abs(s) + sign(s) + floor(s) + ceil(s) + trunc(s) + round(s) + fract(s) + mod(s, 0.7) + s % -0.3
b = min(s, y) + max(s, 0.2) + clamp(s, 0.1, y) + mix(s, y, 0.3) + step(y, s) + smoothstep(y, 1, s)
c = sqrt(s) + inversesqrt(s) + pow(s, 1.5) + exp(s) + exp2(s) + log(s) + log2(s)
d = sin(s) + cos(s) + tan(s) + asin(s) + acos(s) + atan(s) + atan(s, y) + radians(s) + degrees(s)
e = length(s, y) + length(s, y, 1) + distance(s, y, 0.5, 0.5) + fwidth(s)
g = wrap(s) + band(s, y, 0.4) + box(s, y, 0.4) + tail(s, y, 0.4) + edge(s, y) + stripes(s * 3, 0.3)
h = hash(s) + hash(s, y) + hash(s, y, t) + noise(s) + noise(s, y) + noise(s, y, t) + spectrum(s)
i = (s < y) + (s <= y) + (s > y) + (s >= y) + (s == y) + (s != y) + (s and y) + (s or y) + (not s)
j = (s if y < 0.5 else -s) + s / y + s ** 2 - +s
""".strip().splitlines()


@pytest.mark.parametrize("line", EVERY_FUNCTION, ids=[line[0] for line in EVERY_FUNCTION])
def test_compiled_code_agrees_with_the_reference(line):
    """Every function and operator, of a value that changes with place and time."""
    what = effect(f"s = 0.1 + 0.9 * x + 0.01 * t\n{line}\nlevel = 0.5 + atan({line[0]}) / pi{WHITE}")
    chance = np.random.default_rng(5)
    around = surroundings(
        {"t": chance.random(3)},
        {"x": chance.random(500), "y": chance.random(500)},
        step={"x": 0.02, "y": -0.01},
        across={"x": 0.005},
        spectrum=chance.random((3, exact.SPECTRUM_SIZE)),
    )
    got, wanted = light_compiled(what, around)[0], light_exact(what, around)[0]
    off = np.abs(got - wanted) <= 1e-5
    assert off.mean() > 0.995  # a jump (floor, hash, a comparison) may fall to the other side in float32


def test_colours_agree_with_the_reference():
    what = effect(
        "s = fract(x + t)\nlevel = 1\ncolour = rgb(s, y, 0.2) * 0.25 + hsl(720 * s, 0.8, y) * 0.25"
        " + oklch(s, 0.1, 400 * y) * 0.25 + mix(palette(s), linear_rgb(0, y, s), 0.5) * 0.25"
    )
    chance = np.random.default_rng(6)
    around = surroundings(
        {"t": chance.random(3)},
        {"x": chance.random(500), "y": chance.random(500)},
        palette=chance.random((3, exact.PALETTE_SIZE)),
    )
    off = np.abs(light_compiled(what, around) - light_exact(what, around))
    assert np.quantile(off, 0.995) < 1e-5
