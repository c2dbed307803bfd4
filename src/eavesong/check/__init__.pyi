from .findings import Report, check
from .report import report_text

__all__ = [
    "Report",
    "check",
    "report_text",
]
