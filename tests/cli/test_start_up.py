"""What a command loads before it does anything: modules, which are the same on every machine; seconds are not."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
RECORDING = ROOT / "recordings" / "season" / "04-05-first-tube.froth"
# Each takes 0.2 to 1 s to load on two cores of a usual computer.
HEAVY = {"scipy.special", "scipy.optimize", "scipy.stats", "scipy.linalg", "pandas", "plotly", "dash", "PIL"}
LIGHT = {  # commands that fit, solve and draw nothing, by words that show it
    "find": "find --patience 0.01",
    "record": "record --help",
    "check": "check --help",
    "calibrate": "calibrate --help",
    "settings": "settings --help",
    "flash": "flash --help",
    "live": "live --help",
    "demo": "demo --help",
    "verify": "verify {recording}",
    "table": "table --help",
    "curve": "curve --help",
    "compare": "compare --help",
    "sources": "sources",
    "recordings": "recordings {folder}",
    "trials": "trials {folder}",
    "effects": "effects --help",
    "plan": "plan --help",
    "build": "build --new {folder}/new.toml",
    "whatif": "whatif --help",
    "sample": "sample --container 2L --empty 184g --full 331g",
    "batch": "batch --density 600 --volume 120L --foam-density 60",
    "report": "report --help",
}
PROGRAM = (
    "import sys; from frothline.cli import main\n"
    "try: main(sys.argv[1:])\n"
    "except SystemExit: pass\n"
    "print(*sys.modules, file=sys.stderr)"
)


def loaded(words, tmp_path):
    """Names of the modules in memory after a command."""
    command = [word.format(recording=RECORDING, folder=tmp_path) for word in words.split()]
    environment = os.environ | {"FROTHLINE_FOLDER": str(tmp_path)}
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, *command], capture_output=True, text=True, check=True, env=environment
    )
    return set(done.stderr.splitlines()[-1].split())


def test_the_help_of_the_program_loads_no_command_and_no_array():
    modules = loaded("--help", Path())
    own = {name for name in modules if name.startswith("frothline")}
    assert own == {"frothline", "frothline.cli", "frothline.cli.output", "frothline.errors"}
    assert "numpy" not in modules


@pytest.mark.parametrize("name", LIGHT)
def test_a_command_that_computes_nothing_loads_no_heavy_library(name, tmp_path):
    modules = loaded(LIGHT[name], tmp_path)
    assert f"frothline.cli.{name}" in modules
    assert not HEAVY & modules


def test_nothing_of_the_package_imports_scipy_stats():
    for path in (ROOT / "host" / "frothline").rglob("*.py"):
        lines = path.read_text("utf-8").splitlines()
        assert not [line for line in lines if "scipy.stats" in line and "``" not in line], path.name


def test_packages_whose_modules_are_many_import_nothing_by_themselves():
    """Else one name of them loads all of them."""
    for name in ("bench", "curve", "foam", "generator", "recording", "report", "run", "sensors", "sweep", "trials"):
        text = (ROOT / "host" / "frothline" / name / "__init__.py").read_text("utf-8")
        assert "import" not in text.rpartition('"""')[2], name
