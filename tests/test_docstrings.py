"""What is public says what it does: every module, and every function and method without an underscore in front."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import eavesong

ROOT = Path(eavesong.__file__).parent


def silent(tree: ast.Module | ast.ClassDef, owner: str) -> Iterator[str]:
    """What has no docstring, by its name; functions inside functions are left out."""
    if isinstance(tree, ast.Module) and not ast.get_docstring(tree):
        yield owner
    for node in tree.body:
        if isinstance(node, ast.ClassDef):
            yield from silent(node, f"{owner} {node.name}")
        elif isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            public = not node.name.startswith("_")
            yield from [f"{owner} {node.name}"] if public and not ast.get_docstring(node) else []


def test_what_is_public_says_what_it_does() -> None:
    modules = {path.relative_to(ROOT).as_posix(): ast.parse(path.read_text()) for path in ROOT.rglob("*.py")}
    assert len(modules) > 100
    found = [name for path, tree in modules.items() for name in silent(tree, path)]
    assert not found


def test_what_says_nothing_is_found() -> None:
    code = "class A:\n def f(self): ...\n def g(self):\n  'Said.'\n def _h(self): ...\ndef k(): ...\nasync def m(): ..."
    assert list(silent(ast.parse(code), "a.py")) == ["a.py", "a.py A f", "a.py k", "a.py m"]
