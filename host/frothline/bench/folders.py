"""Default folder of the recordings, and the default calibration file."""

from __future__ import annotations

import os
from pathlib import Path

from frothline.readings.applied_calibration import FILE


def default_folder() -> Path:
    """Where recordings go unless said otherwise: FROTHLINE_FOLDER, or ``Frothline`` in the home folder."""
    named = os.environ.get("FROTHLINE_FOLDER", "")
    return Path(named).expanduser() if named else Path.home() / "Frothline"


def default_calibration(folder: Path | None = None) -> Path:
    """Where what is calibrated is kept, and looked for, unless a file is named: in the folder of the recordings."""
    return (default_folder() if folder is None else folder) / FILE
