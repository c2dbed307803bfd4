from .assumptions import Assumptions
from .limits import Limits, flash_findings, flashes_of, limits, supply_findings
from .page import parts_page, report_page
from .parts import parts_csv
from .report import report_text
from .written import with_supplies, write_proposal

__all__ = [
    "Assumptions",
    "Limits",
    "flash_findings",
    "flashes_of",
    "limits",
    "parts_csv",
    "parts_page",
    "report_page",
    "report_text",
    "supply_findings",
    "with_supplies",
    "write_proposal",
]
