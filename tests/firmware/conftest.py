"""Fixtures that build and start the portable firmware for this machine."""

import shutil
import subprocess

import pytest
from firmware_probe import FIRMWARE, Board, Probe


@pytest.fixture(scope="session")
def program(tmp_path_factory):
    if not (shutil.which("gcc") and shutil.which("make")):
        pytest.skip("needs gcc and make")
    build = tmp_path_factory.mktemp("native")
    subprocess.run(["make", "-s", "-C", FIRMWARE, "native", f"BUILD={build}"], check=True)
    return build / "native" / "probe"


@pytest.fixture
def probes(program):
    """Starts probes; all are closed, and must end well, when the test does."""
    started = []

    def start():
        started.append(Probe(program))
        return started[-1]

    yield start
    for probe in started:
        probe.close()


@pytest.fixture
def probe(probes):
    return probes()


@pytest.fixture
def boards(probes):
    return lambda **world: Board(probes(), **world)
