"""The notebook of the folder that the options of a command name."""

from __future__ import annotations

from argparse import Namespace

from frothline.bench.folders import default_folder
from frothline.cli.output import Say
from frothline.cli.sensors import sensors_of
from frothline.trials.notebook import Notebook, open_notebook


def notebook_of(options: Namespace, say: Say) -> Notebook:
    """The notebook of the folder in the options."""
    folder = options.folder or default_folder()
    sensors = sensors_of(options, folder, say=say) if hasattr(options, "calibration") else {}
    return open_notebook(folder, **sensors)
