"""Calibration and spool from the options of a command."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path
from typing import Any

from frothline.cli.options import NONE
from frothline.cli.output import Say
from frothline.readings.applied_calibration import one_calibration_file
from frothline.sensors import calibration_file
from frothline.sensors.calibration import Calibration
from frothline.sensors.spool import Spool


def sensors_of(options: Namespace, *recordings: Path, say: Say | None = None) -> dict[str, Any]:
    """Calibration and spool from the options; raises InputError or SensorError.

    Without a named calibration every reader uses the one in the folder of the recording; the one next to ``recordings``
    (files or folders) is reported here.
    """
    found: dict[str, Any] = {}
    named = options.calibration
    if named is None and (taken := one_calibration_file(recordings)) is not None and say is not None:
        say.note(f"calibration: {taken}")
    if named is not None:
        found["calibration"] = Calibration() if named == NONE else calibration_file.load(named)
    if options.spool is not None:
        found["spool"] = Spool.load(options.spool)
    return found
