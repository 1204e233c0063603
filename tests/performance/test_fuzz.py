"""Fuzzing that follows the coverage, for a short time each; ``fuzz.py`` runs as long as one likes."""

import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE))

import fuzz  # noqa: E402


@pytest.mark.parametrize("name", fuzz.TARGETS)
def test_every_target_reads_its_valid_files(tmp_path, name):
    seeds, read = fuzz.TARGETS[name](tmp_path)
    assert seeds
    for data in seeds:
        read(data)  # raises for a file that the reader refuses


@pytest.mark.exhaustive
@pytest.mark.parametrize("name", fuzz.TARGETS)
def test_no_input_that_reaches_new_lines_ends_in_a_raw_error(name):
    pytest.importorskip("atheris")
    ran = subprocess.run(
        [sys.executable, str(HERE / "fuzz.py"), name, "20"], capture_output=True, text=True, check=False
    )
    assert ran.returncode == 0, ran.stderr[-3000:]
    assert "stat::number_of_executed_units" in ran.stderr
