"""Checks: whether supplies, wires, data lines and eyes can carry what a house is asked to show.

`limits` puts everything together; the modules below can be used one by one. Names load their modules only when
first used.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from eavesong.checks.assumptions import Assumptions
    from eavesong.checks.limits import Limits, limits
    from eavesong.checks.page import parts_page, report_page
    from eavesong.checks.parts import parts_csv
    from eavesong.checks.report import report_text
    from eavesong.checks.written import with_supplies, write_proposal

__all__ = [
    "Assumptions",
    "Limits",
    "limits",
    "parts_csv",
    "parts_page",
    "report_page",
    "report_text",
    "with_supplies",
    "write_proposal",
]

_HOMES = {
    "assumptions": ("Assumptions",),
    "limits": ("Limits", "limits"),
    "page": ("parts_page", "report_page"),
    "parts": ("parts_csv",),
    "report": ("report_text",),
    "written": ("with_supplies", "write_proposal"),
}


def __getattr__(name: str) -> Any:
    for home, names in _HOMES.items():
        if name in names:
            module = importlib.import_module(f"{__name__}.{home}")
            # All at once: a function called as its module is must hide it.
            globals().update({each: getattr(module, each) for each in names})
            return globals()[name]
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
