"""Reports: one self-contained HTML file each, for screen and paper. Nothing in them is fetched from anywhere."""

from frothline.report.batch import batch_card, batch_data, batch_report, batch_rows
from frothline.report.html_page import Report
from frothline.report.run import run_report
from frothline.report.sweep import sweep_report
from frothline.report.trials import series_report

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
