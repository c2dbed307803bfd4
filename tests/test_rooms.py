"""The public names of every room: what its stub says, whatever else is imported before or after.

Importing a module binds its name on its package (Python Language Reference, 5.4.2), so that a function called like the
module it stands in could arrive as the module.
"""

from __future__ import annotations

import ast
import json
import subprocess
import sys
from graphlib import TopologicalSorter
from pathlib import Path

import grimp
import pytest

import eavesong

STUBS = {stub.parent.name: stub for stub in sorted(Path(eavesong.__file__).parent.glob("*/__init__.pyi"))}

LOOK = """
import importlib, json, pkgutil, sys

def modules(room, homes):
    package = importlib.import_module(room)
    for found in pkgutil.iter_modules(package.__path__):
        importlib.import_module(f"{room}.{found.name}")

def names(room, homes):
    given = {}
    exec(f"from {room} import {', '.join(homes)}", given)
    for name, home in homes.items():
        meant = vars(sys.modules[f"{room}.{home}"])[name]
        assert given[name] is meant, f"{name} arrives as {given[name]!r}"
        assert getattr(sys.modules[room], name) is meant, f"{name} has become {getattr(sys.modules[room], name)!r}"

for room, homes in json.loads(sys.argv[1]).items():
    for steps in ((names, modules, names), (modules, names)):
        for name in [name for name in sys.modules if f"{name}.".startswith(f"{room}.")]:
            del sys.modules[name]
        for step in steps:
            step(room, homes)
"""


def homes_of(stub: Path) -> dict[str, str]:
    """Every public name and the module it stands in."""
    nodes = ast.walk(ast.parse(stub.read_text()))
    return {one.name: node.module or "" for node in nodes if isinstance(node, ast.ImportFrom) for one in node.names}


def listed(stub: Path) -> list[str]:
    """The names in the stub's ``__all__``."""
    body = ast.parse(stub.read_text()).body
    return next(ast.literal_eval(node.value) for node in body if isinstance(node, ast.Assign))


def test_public_names_are_never_modules() -> None:
    asked = json.dumps({f"eavesong.{room}": homes_of(stub) for room, stub in STUBS.items()})
    done = subprocess.run([sys.executable, "-c", LOOK, asked], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr.splitlines()[-1]


@pytest.mark.parametrize("room", STUBS)
def test_a_stub_lists_the_names_it_imports(room: str) -> None:
    assert listed(STUBS[room]) == sorted(homes_of(STUBS[room]))


def test_every_room_with_public_names_has_a_stub() -> None:
    assert {"frames", "language", "layout", "music", "playback", "preview", "show"} <= set(STUBS)


def test_importing_a_room_imports_nothing_it_stands_on() -> None:
    code = f"import sys, {', '.join(f'eavesong.{room}' for room in STUBS)}; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert not {"numpy", "pydantic", "numba", "h5py", "scipy", "click"} & set(done.stdout.split())
    assert "eavesong.language" in done.stdout.split()


ENGINES = {"Drawing"}
"""Every engine is a package with a class of this name, by which it is found."""


def test_no_two_classes_share_a_name() -> None:
    homes: dict[str, list[str]] = {}
    for path in sorted(Path(eavesong.__file__).parent.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.ClassDef):
                homes.setdefault(node.name, []).append(f"{path.parent.name}/{path.name}")
    assert len(homes) > 300
    assert {name: where for name, where in homes.items() if len(where) > 1 and name not in ENGINES} == {}


def test_no_module_imports_itself_round_a_circle() -> None:
    """Wherever the import stands, also inside functions; what only type checkers import runs nothing."""
    graph = grimp.build_graph("eavesong", exclude_type_checking_imports=True, cache_dir=None)
    imports = {module: graph.find_modules_directly_imported_by(module) for module in graph.modules}
    assert len(imports) > 100
    TopologicalSorter(imports).prepare()  # raises CycleError, which names the circle


def test_the_map_names_every_room_and_no_other() -> None:
    """In DEVELOPERS.md: a line for each room, and at its end what lies beside them."""
    package = Path(eavesong.__file__).parent
    text = (Path(__file__).parents[1] / "DEVELOPERS.md").read_text()
    told = text[text.index("src/eavesong/\n") :].split("```")[0].splitlines()[1:]
    rooms = {line.split("/")[0].strip() for line in told if "/ " in line}
    assert rooms == {path.parent.name for path in package.glob("*/__init__.py")}
    beside = {name for line in told if "/ " not in line for name in line.split()}
    assert beside == {path.name for path in package.glob("*.py") if not path.name.startswith("_")}
