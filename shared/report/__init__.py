"""Reports to print and sign: one HTML file each, complete in itself, readable without network and without scripts."""
from .checkpoints import CheckContext, write_check_report
from .comparison import ReportContext, findings, write_report

__all__ = ["CheckContext", "ReportContext", "findings", "write_check_report", "write_report"]
