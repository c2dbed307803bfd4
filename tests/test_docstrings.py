"""What is public says what it does: every module, class, function and method without an underscore in front."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import eavesong

ROOT = Path(eavesong.__file__).parent
SPEAKING = (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)


def silent(tree: ast.AST, owner: str, public: bool = True) -> Iterator[str]:
    """What has no docstring, by its name, at any depth: functions inside functions as well."""
    if public and isinstance(tree, SPEAKING) and not ast.get_docstring(tree):
        yield owner
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, SPEAKING):
            yield from silent(node, f"{owner} {node.name}", not node.name.startswith("_"))
        elif isinstance(node, ast.stmt):
            yield from silent(node, owner)


def test_what_is_public_says_what_it_does() -> None:
    modules = {path.relative_to(ROOT).as_posix(): ast.parse(path.read_text()) for path in ROOT.rglob("*.py")}
    assert len(modules) > 100
    found = [name for path, tree in modules.items() for name in silent(tree, path)]
    assert not found


def test_what_says_nothing_is_found() -> None:
    code = """
class A:
    def f(self): ...
    def g(self):
        'Said.'
    def _h(self):
        def inner(): ...
def k():
    if True:
        async def deep(): ...
class _B:
    def seen(self): ...
"""
    found = list(silent(ast.parse(code), "a.py"))
    assert found == ["a.py", "a.py A", "a.py A f", "a.py A _h inner", "a.py k", "a.py k deep", "a.py _B seen"]
