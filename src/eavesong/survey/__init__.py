"""Survey: a photo and a tape measure in, a house in metres out, with the error of every point.

`survey` reads a survey file and solves it; `layout_text` writes the layout. The names below load their modules only
when first used, so that importing the room costs nothing.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from eavesong.survey.model import survey_schema
    from eavesong.survey.picture import check_picture
    from eavesong.survey.report import findings, report_data, report_text
    from eavesong.survey.sheet import write_sheet
    from eavesong.survey.solution import Solution, solve, survey
    from eavesong.survey.write import layout_text

__all__ = [
    "Solution",
    "check_picture",
    "findings",
    "layout_text",
    "report_data",
    "report_text",
    "solve",
    "survey",
    "survey_schema",
    "write_sheet",
]

_HOMES = {
    "model": ("survey_schema",),
    "picture": ("check_picture",),
    "report": ("findings", "report_data", "report_text"),
    "sheet": ("write_sheet",),
    "solution": ("Solution", "solve", "survey"),
    "write": ("layout_text",),
}


def __getattr__(name: str) -> Any:
    for home, names in _HOMES.items():
        if name in names:
            return getattr(importlib.import_module(f"{__name__}.{home}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
