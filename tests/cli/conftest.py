"""Means of running a command line, and a small house and effect."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import pytest

from eavesong.cli import main
from shows import house_text, wash_text

__all__ = ["house_text", "wash_text"]


@dataclass(frozen=True)
class Ended:
    """How a command ended."""

    code: int
    out: str
    err: str


@pytest.fixture
def eavesong(capsys: pytest.CaptureFixture[str]) -> Callable[..., Ended]:
    """Run a command line as a user would, without the cost of a process."""

    def run(*arguments: object) -> Ended:
        with pytest.raises(SystemExit) as end:
            main([str(argument) for argument in arguments])
        captured = capsys.readouterr()
        return Ended(int(end.value.code or 0), captured.out, captured.err)

    return run
