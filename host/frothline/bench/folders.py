"""Default folder of the recordings, and the default calibration file."""

from __future__ import annotations

import os
from pathlib import Path

from frothline.preferences import FOLDER_VARIABLE
from frothline.readings.applied_calibration import FILE


def default_folder() -> Path:
    """Default folder of recordings: FROTHLINE_FOLDER, or ``Frothline`` in the home folder."""
    named = os.environ.get(FOLDER_VARIABLE, "")
    return Path(named).expanduser() if named else Path.home() / "Frothline"


def default_calibration(folder: Path | None = None) -> Path:
    """Default path of the calibration file, in the folder of the recordings."""
    return (default_folder() if folder is None else folder) / FILE
