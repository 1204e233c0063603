"""``live``: the pages of a rig."""

from __future__ import annotations

from argparse import Namespace

from frothline.bench.session import Session
from frothline.cli.options import NONE, checked_rate
from frothline.cli.output import Say
from frothline.cli.sensors import sensors_of
from frothline.cli.serving import serve_pages


def run(options: Namespace, say: Say) -> int:

    sensors = sensors_of(options)
    if options.calibration not in {None, NONE}:
        sensors["calibration"] = options.calibration  # by its name: a calibration on the page is written to it
    session = Session(options.port, options.folder, rate=checked_rate(options), **sensors)
    with session:
        session.start()  # the page is available at once and shows what it is waiting for
        return serve_pages(session, options, say)
