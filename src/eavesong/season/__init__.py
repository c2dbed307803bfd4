"""Batches: all songs of a setlist, for all its houses, rendered unattended; on one machine or on several.

check everything → skip what is up to date → workers, one song each → a table, a report, an exit code

The names below load their modules only when first used, so that a batch with nothing to do starts fast.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from eavesong.season.plan import Plan, Task, plan_batch
    from eavesong.season.run import Finished, run_batch
    from eavesong.season.work import Outcome

__all__ = ["Finished", "Outcome", "Plan", "Task", "plan_batch", "run_batch"]

_HOMES = {
    "plan": ("Plan", "Task", "plan_batch"),
    "run": ("Finished", "run_batch"),
    "work": ("Outcome",),
}


def __getattr__(name: str) -> Any:
    for home, names in _HOMES.items():
        if name in names:
            return getattr(importlib.import_module(f"{__name__}.{home}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
