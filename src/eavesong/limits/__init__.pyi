from .assumptions import Assumptions
from .limits import Limits, limits
from .page import parts_page, report_page
from .parts import parts_csv
from .report import report_text

__all__ = [
    "Assumptions",
    "Limits",
    "limits",
    "parts_csv",
    "parts_page",
    "report_page",
    "report_text",
]
