"""Reports to print and sign: one HTML file each, complete in itself, readable without network and
without scripts."""

from .captures import CapturesContext, write_captures_report
from .checkpoints import CheckContext, write_check_report
from .comparison import ReportContext, write_report
from .page import TitleBlock

__all__ = [
    "CapturesContext",
    "CheckContext",
    "ReportContext",
    "TitleBlock",
    "write_captures_report",
    "write_check_report",
    "write_report",
]
