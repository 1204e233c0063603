"""Fixtures that build and start the portable firmware for this machine."""

import pytest
from firmware_probe import Board, Probe, build_native


@pytest.fixture(scope="session")
def program(tmp_path_factory):
    return build_native(tmp_path_factory.mktemp("native"), "gcc")


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
