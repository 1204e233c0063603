"""Reports: one self-contained HTML file each, for screen and paper. Nothing in them is fetched from anywhere."""

from .batch import batch_card, batch_data, batch_report, batch_rows
from .page import Report
from .run import run_report
from .series import series_report
from .sweep import sweep_report

__all__ = [
    "Report",
    "batch_card",
    "batch_data",
    "batch_report",
    "batch_rows",
    "run_report",
    "series_report",
    "sweep_report",
]
