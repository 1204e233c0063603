"""``verify``: check a recording for damaged and missing data."""

from __future__ import annotations

from argparse import Namespace

from frothline.cli.output import Say
from frothline.recording.reader import verify

WHOLE, LOSSES = 0, 1


def run(options: Namespace, say: Say) -> int:

    reports = []
    for path in options.recording:
        say.progress(f"reading {path}")
        reports.append(verify(path))
    data = [report.as_dict() for report in reports]
    lines = [f"{report.name}: " + "\n  ".join(report.sentences()) for report in reports]
    say.result(data, "\n".join(lines))
    return WHOLE if all(report.exit_code == 0 for report in reports) else LOSSES
