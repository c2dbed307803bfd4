"""The recipes of DEVELOPERS.md, followed to the letter in a copy of the sources, and what they add put to use.

How to add a function of the language or a blend mode is tested with the language.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import eavesong
from eavesong.files import shipped

TESTS = Path(__file__).parent
SOURCES = Path(eavesong.__file__).parent


@pytest.fixture(scope="module")
def copy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the package in ``src``, with the effects and layouts that come with it beside; one recipe is followed
    after the other there."""
    folder = tmp_path_factory.mktemp("copy")
    for name in ("effects", "layouts"):
        shutil.copytree(shipped(name), folder / name)
    away = shutil.ignore_patterns("__pycache__", "shipped")
    return Path(shutil.copytree(SOURCES, folder / "src" / "eavesong", ignore=away))


def write_in(path: Path, text: str, *, after: str = "") -> None:
    """Put ``text`` behind a piece of a file, or at its end."""
    whole = path.read_text()
    assert after in whole
    path.write_text(whole.replace(after, after + text, 1) if after else whole + text)


def run(copy: Path, *arguments: str) -> str:
    """What Python prints that finds the copy, and the means of these tests."""
    environment = os.environ | {
        "PYTHONPATH": os.pathsep.join((str(copy.parent), str(TESTS))),
        "EAVESONG_CACHE": str(copy.parent / "cache"),
    }
    command = [sys.executable, *arguments]
    done = subprocess.run(command, capture_output=True, text=True, env=environment, check=False, cwd=copy.parent)
    assert done.returncode == 0, done.stderr
    return done.stdout


EFFECT = '''
title = "Half"
about = "The left half is lit."
code = """
level = step(x, share)
colour = palette(y)
"""
[parameters]
share = { default = 0.5, min = 0, max = 1, unit = "house widths", about = "how far it reaches" }
'''

DRAWN = """
import numpy as np
from eavesong.language import effect_names, load_effect
from support import frames_of, line, points
lit = frames_of(load_effect("half"), points(line(10)), "plain").block(0, 1).reshape(10, 3)
print("half" in effect_names(), lit.any(axis=1).tolist() == [True] * 5 + [False] * 5)
"""


def test_an_effect(copy: Path) -> None:
    """One file: then it is listed and drawn."""
    (copy.parents[1] / "effects" / "half.toml").write_text(EFFECT)
    assert run(copy, "-c", DRAWN).split() == ["True", "True"]


MODEL = '''class Lozenge(Pixelled):
    """A square or longer one that stands on a corner."""

    shape: Literal["lozenge"]
    width: Length
    height: Length

    def wire(self) -> Wire:
        """Four sides round the origin."""
        return shapes.lozenge(self.width, self.height, self.pixels, self.pitch)


'''

POINTS = """

def lozenge(width: float, height: float, pixels: int | None, pitch: float | None) -> Wire:
    corners = [(0, -height / 2, 0), (-width / 2, 0, 0), (0, height / 2, 0), (width / 2, 0, 0)]
    return polyline(corners, True, pixels, pitch)
"""

HUNG = """
import json, pathlib
from eavesong.layout import layout_schema, load_layout
text = "title = 'House'\\n[[prop]]\\nname = 'sign'\\nshape = 'lozenge'\\nwidth = 6\\nheight = 8\\npixels = 20\\n"
pathlib.Path("house.toml").write_text(text)
print(load_layout("house.toml").props[0].length, '"lozenge"' in json.dumps(layout_schema()))
"""


def test_a_shape(copy: Path) -> None:
    """A model, its name in the list, and a function: then layout files can use it, and the schema knows it."""
    props = copy / "layout" / "props.py"
    whole = props.read_text()
    before, union = whole.split("AnyProp = ", 1)
    props.write_text(f"{before}{MODEL}AnyProp = {union}")
    write_in(props, " | Lozenge", after="| Points")
    write_in(copy / "layout" / "shapes.py", POINTS)
    assert run(copy, "-c", HUNG).split() == ["20.0", "True"]  # four times the hypotenuse of 3 and 4


ASKED = """

def _pale_findings(cue: Cue) -> Iterator[Finding]:
    if 0 < cue.opacity < 0.02:
        yield "opacity", f"the cue is hardly seen at opacity {cue.opacity}", "Write a larger one."
"""

CHECKED = """
import pathlib
from eavesong.check import check, report_text
from eavesong.layout import load_layout
from eavesong.scene import set_scene
from eavesong.show import load_show
from shows import EFFECTS, HOUSE, even_grid, load_effect
pathlib.Path("house.toml").write_text(HOUSE)
pathlib.Path("pale.show.toml").write_text("[[cue]]\\neffect = 'wash'\\nopacity = 0.01\\n")
show = load_show("pale.show.toml", load=load_effect, names=EFFECTS)
print(report_text(check(set_scene(show, load_layout("house.toml"), even_grid()))))
"""


def test_a_check(copy: Path) -> None:
    """A function that yields what it found, and the line that asks it: then reports tell it with its place."""
    findings = copy / "check" / "cues.py"
    write_in(findings, ASKED)
    write_in(findings, "\n    yield from _pale_findings(cue)", after="yield from _unseen_findings(cue, placed)")
    said = run(copy, "-c", CHECKED)
    assert "What else is odd (1):\n- line 3, cue 1, opacity: the cue is hardly seen at opacity 0.01.\n" in said
    assert "  Write a larger one." in said


COMMAND = '''"""``eavesong count``: how many effects there are."""

import click


@click.command()
def command() -> None:
    """Count the effects that come with eavesong."""
    from eavesong.language import effect_names

    click.echo(len(effect_names()))
'''


def test_a_command(copy: Path) -> None:
    """A file and a line: then it is run, and stands in the help."""
    (copy / "cli" / "count.py").write_text(COMMAND)
    write_in(copy / "cli" / "__init__.py", '\n    "count": "Count the effects.",', after="COMMANDS = {")
    there = len(list((copy.parents[1] / "effects").glob("*.toml")))
    assert run(copy, "-m", "eavesong", "count") == f"{there}\n"
    assert "Count the effects." in run(copy, "-m", "eavesong", "--help")


ENGINE = '''"""An engine that lights every channel with the number of its frame."""

import numpy as np


class Drawing:
    def __init__(self, scene):
        self.scene = scene

    def fill(self, out, first, tiles=None):
        out[:] = np.arange(first, first + len(out))[:, None]

    def block(self, first, count):
        out = np.zeros((count, self.scene.layout.patch.channel_count), np.uint8)
        self.fill(out, first)
        return out
'''

CHOSEN = """
from eavesong.engines import fingerprint_of, names
from support import frames_of, line, points
block = frames_of("1", points(line(2)), "counting").block(7, 2)
print(*names(), block.tolist() == [[7] * 6, [8] * 6], fingerprint_of("counting") != fingerprint_of("plain"))
"""


def test_an_engine(copy: Path) -> None:
    """A package: then it is found by its name, draws scenes, and has a fingerprint of its own."""
    (copy / "engines" / "counting").mkdir()
    (copy / "engines" / "counting" / "__init__.py").write_text(ENGINE)
    assert run(copy, "-c", CHOSEN).split() == ["counting", "numba", "plain", "True", "True"]
