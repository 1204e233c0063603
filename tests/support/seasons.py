"""The simulated season and its script, for the tests of trials, notebook, reports and commands."""

import importlib.util
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
SEASON = ROOT / "recordings" / "season"


def script(name):
    """A script of the folder of recordings, as a module."""
    spec = importlib.util.spec_from_file_location(name, ROOT / "recordings" / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module
