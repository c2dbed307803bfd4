"""The recipes of DEVELOPERS.md, followed to the letter in a copy of the sources, and what they add put to use."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import eavesong

ROOT = Path(eavesong.__file__).parent
TESTS = Path(__file__).parents[1]


@pytest.fixture(scope="module")
def copy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the package, where one recipe is followed after the other."""
    folder = tmp_path_factory.mktemp("copy") / "eavesong"
    return Path(shutil.copytree(ROOT, folder, ignore=shutil.ignore_patterns("__pycache__")))


def add(path: Path, text: str, before: str = "") -> None:
    """Put ``text`` at the end of a file, or before a line of it."""
    whole = path.read_text()
    assert before in whole
    path.write_text(whole.replace(before, f"{text}{before}", 1) if before else whole + text)


def run(copy: Path, code: str) -> str:
    """What a program prints that finds the copy."""
    environment = os.environ | {
        "PYTHONPATH": os.pathsep.join((str(copy.parent), str(TESTS))), "EAVESONG_CACHE": str(copy.parent / "cache"),
    }  # fmt: skip
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, env=environment, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


FUNCTION = """
import numpy as np
from eavesong.errors import EffectError
from support import level_of, light_compiled, light_exact, surroundings
x = np.linspace(-2, 2, 41)
around = surroundings({"t": [0.0, 0.3]}, {"x": x})
for what in (level_of("zigzag(x + t) / 2"), level_of("zigzag(x)"), level_of("zigzag(t)"), level_of("zigzag(0.75)")):
    lit = light_compiled(what, around)
    np.testing.assert_allclose(lit, np.broadcast_to(light_exact(what, around), lit.shape), atol=1e-6)
wave = np.abs(x - np.floor(x + 0.5)) * 2
np.testing.assert_allclose(light_exact(level_of("zigzag(x)"), around)[0, 0], wave, atol=1e-12)
try:
    level_of("zigzog(x)")
except EffectError as fault:
    print(fault)
from eavesong.cli import group
group.main(["effects", "--functions"], standalone_mode=False)
"""


def test_a_function_of_the_language(copy: Path) -> None:
    """One line in the table, one function in each floor: then authors, errors and the list of functions know it."""
    add(copy / "language" / "builtins.py", "zigzag(x) | 2 | up and down again once a unit\n", "wrap(p) |")
    add(copy / "kernels" / "exact.py", "\n\ndef zigzag(x):\n    return np.abs(x - round(x)) * 2.0\n")
    add(copy / "kernels" / "fast.py", "\n\ndef zigzag(x):\n    return magnitude(x - round(x)) * f(2)\n")
    said = run(copy, FUNCTION)
    assert "Did you mean 'zigzag'?" in said
    assert "up and down again once a unit" in said


MODE = """
import numpy as np
from eavesong.kernels.blend import blended
from eavesong.show.model import Cue, show_schema
import sys
print("numba" in sys.modules)
from support import effect, light_compiled, surroundings
below, source = np.random.default_rng(1).random((2, 3, 50))
around = surroundings({"t": [0.0]}, dict(zip("xyz", source)))
cue = effect("level = 0.5\\ncolour = linear_rgb(x, y, z)")
lit = light_compiled(cue, around, below=below, mode="geometric-mean")[:, 0]
np.testing.assert_allclose(lit, (below + np.sqrt(below * source)) / 2, atol=1e-6)
np.testing.assert_allclose(blended("geometric-mean", below, source, 0.5), (below + np.sqrt(below * source)) / 2)
print(Cue(effect="wash", blend="geometric-mean").blend, '"geometric-mean"' in __import__("json").dumps(show_schema()))
"""


def test_a_blend_mode(copy: Path) -> None:
    """One function: then kernels, reference, show files and schema know it, and names cost no numba."""
    formula = '\n\n@mode("channel")\ndef geometric_mean(below, source):\n    return sqrt(below * source)\n'
    add(copy / "kernels" / "blend.py", formula)
    assert run(copy, MODE).split() == ["False", "geometric-mean", "True"]
