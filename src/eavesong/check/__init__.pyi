from .findings import Report, check, palettes_in
from .report import report_text

__all__ = [
    "Report",
    "check",
    "palettes_in",
    "report_text",
]
