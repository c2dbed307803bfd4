"""Problems of one layout file, gathered until all are known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from eavesong.errors import LayoutError, MisfitError, Problem
from eavesong.misfits import MOST_TOLD
from eavesong.statements import place


@dataclass
class Faults:
    """Problems found so far in ``file``; places are found in its ``text``."""

    file: str
    text: str
    problems: list[Problem] = field(default_factory=list)
    more: int = 0
    """Problems that are only counted."""

    def add(self, path: Sequence[str | int], found: str, instead: str = "") -> None:
        """Note that at ``path`` (keys and list positions from 0) ``found`` is the case; write ``instead``."""
        if len(self.problems) >= MOST_TOLD:
            self.more += 1
            return
        problem = Problem(self.file, place(self.text, path), found, instead)
        if problem not in self.problems:
            self.problems.append(problem)

    def add_error(self, path: Sequence[str | int], fault: MisfitError) -> None:
        """Note that the value at ``path`` does not fit."""
        self.add(path, fault.found, fault.instead)

    def stop_if_any(self) -> None:
        """Raise LayoutError with everything noted, if anything was."""
        if self.more:
            self.problems.append(Problem(self.file, "", f"{self.more:,} more problems follow", count=self.more))
        if self.problems:
            raise LayoutError(self.problems)
