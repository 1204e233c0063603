"""What a command loads before it does anything: modules, which are the same on every machine; seconds are not."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from frothline.cli import COMMANDS

ROOT = Path(__file__).parents[2]
RECORDING = ROOT / "recordings" / "season" / "04-05-first-tube.froth"
# Each takes 0.2 to 1 s to load on two cores of a usual computer.
HEAVY = {"scipy.special", "scipy.optimize", "scipy.stats", "scipy.linalg", "pandas", "plotly", "dash", "PIL"}
LIGHT = {  # commands that fit, solve and draw nothing
    "find": "find --patience 0.01",
    "verify": "verify {recording}",
    "sources": "sources",
    "recordings": "recordings {folder}",
    "trials": "trials {folder}",
    "build": "build --new {folder}/new.toml",
    "sample": "sample --container 2L --empty 184g --full 331g",
    "batch": "batch --density 600 --volume 120L --foam-density 60",
}
NEEDS = {"table": "pandas", "overview": "pandas", "live": "dash", "demo": "dash"}  # what a command cannot do without
PROGRAM = (
    "import sys; from frothline.cli import main\n"
    "try: main(sys.argv[1:])\n"
    "except SystemExit: pass\n"
    "print(*sys.modules, file=sys.stderr)"
)


def modules_after(program, *arguments, **more):
    """Names of the modules in memory after a program."""
    command = [sys.executable, "-c", program, *map(str, arguments)]
    done = subprocess.run(command, capture_output=True, text=True, check=True, env=os.environ | more)
    return set(done.stderr.splitlines()[-1].split())


def test_the_help_of_the_program_loads_no_command_and_no_arrays():
    modules = modules_after(PROGRAM, "--help")
    own = {name for name in modules if name.startswith("frothline")}
    assert own == {
        "frothline",
        "frothline.cli",
        "frothline.cli.output",
        "frothline.cli.plain_text",
        "frothline.errors",
        "frothline.preferences",
        "frothline.toml_text",
        "frothline.units",
    }
    assert "numpy" not in modules


def test_the_help_of_a_command_loads_its_options_and_not_the_command():
    modules = modules_after(PROGRAM, "whatif", "--help")
    assert "frothline.cli.arguments.whatif" in modules
    assert not {"frothline.cli.whatif", "frothline.cli.arguments.batch", "numpy"} & modules


def test_the_options_of_all_commands_together_load_no_arrays():
    program = "import sys; from frothline.cli import parser; parser(); print(*sys.modules, file=sys.stderr)"
    modules = modules_after(program)
    assert {f"frothline.cli.arguments.{command.name}" for command in COMMANDS} <= modules
    assert "numpy" not in modules


@pytest.mark.parametrize("name", LIGHT)
def test_a_command_that_computes_nothing_loads_no_heavy_library(name, tmp_path):
    words = [word.format(recording=RECORDING, folder=tmp_path) for word in LIGHT[name].split()]
    modules = modules_after(PROGRAM, *words, FROTHLINE_FOLDER=str(tmp_path))
    assert f"frothline.cli.{name}" in modules
    assert not HEAVY & modules


def test_the_commands_that_need_no_table_and_no_page_load_no_heavy_library_when_they_are_imported():
    names = [f"frothline.cli.{command.name}" for command in COMMANDS if command.name not in NEEDS]
    modules = modules_after(f"import sys, {', '.join(names)}; print(*sys.modules, file=sys.stderr)")
    assert not HEAVY & modules


def test_pandas_is_loaded_before_a_page_is_served():
    """plotly uses pandas where it finds it loaded: a chart drawn while another thread was loading it ended in an error."""
    modules = modules_after("import sys, frothline.web.server; print(*sys.modules, file=sys.stderr)")
    assert {"pandas", "plotly"} <= modules


def test_nothing_of_the_package_imports_scipy_stats():
    for path in (ROOT / "host" / "frothline").rglob("*.py"):
        lines = path.read_text("utf-8").splitlines()
        assert not [line for line in lines if "scipy.stats" in line and "``" not in line], path.name


def test_packages_whose_modules_are_many_import_nothing_by_themselves():
    """Else one name of them loads all of them."""
    for name in ("bench", "curve", "foam", "generator", "recording", "report", "run", "sensors", "sweep", "trials"):
        text = (ROOT / "host" / "frothline" / name / "__init__.py").read_text("utf-8")
        assert "import" not in text.rpartition('"""')[2], name
