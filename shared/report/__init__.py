"""Reports to print and sign: one self-contained HTML file each, readable without network and
scripts."""

from .captures import CapturesContext, DayRow, LayerRow, write_captures_report
from .checkpoints import CheckContext, write_check_report
from .comparison import ReportContext, write_report
from .page import TitleBlock

__all__ = [
    "CapturesContext",
    "CheckContext",
    "DayRow",
    "LayerRow",
    "ReportContext",
    "TitleBlock",
    "write_captures_report",
    "write_check_report",
    "write_report",
]
