"""``find``: search all serial ports for a rig."""

from __future__ import annotations

from argparse import Namespace

from frothline.cli.output import Say
from frothline.rig import candidates, find_rigs

FOUND, LOSSES, NO_RIG = 0, 1, 3


def run(options: Namespace, say: Say) -> int:

    ports = candidates()
    say.note(f"asking {len(ports)} port{'s' if len(ports) != 1 else ''} …")
    report = find_rigs(ports, options.patience)
    lines = [
        f"{one.url}  rig {one.label or 'without a label'}{f' ({one.number:08x})' if one.number else ''},"
        f" firmware {one.firmware}, {one.rate} Hz"
        for one in report.rigs
    ]
    lines += [f"{one.url}  no rig: {one.why}" for one in report.others]
    if not report.rigs:
        lines.append("no rig answered" if ports else "no serial port found; plug the board in")
    say.result(report, "\n".join(lines))
    return FOUND if report.rigs else NO_RIG
