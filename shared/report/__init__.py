"""Reports to print and sign: one HTML file each, complete in itself, readable without network and
without scripts."""

from .captures import CapturesContext, write_captures_report
from .checkpoints import CheckContext, write_check_report
from .comparison import ReportContext, findings, write_report

__all__ = [
    "CapturesContext",
    "CheckContext",
    "ReportContext",
    "findings",
    "write_captures_report",
    "write_check_report",
    "write_report",
]
