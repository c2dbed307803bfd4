"""Tests lie where what they test lies: for a module of the package, tests/<room>/test_<module>.py."""

from __future__ import annotations

from pathlib import Path

import eavesong

ROOT = Path(eavesong.__file__).parent
TESTS = Path(__file__).parent
SHARE = 0.8
"""Of all modules, at least."""


def test_most_modules_have_a_test_of_the_same_name() -> None:
    modules = [path.relative_to(ROOT) for path in ROOT.rglob("*.py") if not path.name.startswith("__")]
    assert len(modules) > 100
    without = sorted(str(path) for path in modules if not (TESTS / path.parent / f"test_{path.name}").is_file())
    assert 1 - len(without) / len(modules) >= SHARE, without
