"""Rigs that are closed when their test ends."""

import pytest
from benches import Bench, Talk, need_emulator


@pytest.fixture
def talk():
    opened = []

    def start(url, **settings):
        opened.append(Talk(url, **settings))
        opened[-1].listen(until="description")
        return opened[-1]

    yield start
    for one in opened:
        one.port.close()


@pytest.fixture
def bench():
    need_emulator()
    made = []

    def start(url="emulated://steady?seed=1", storage=None):
        made.append(Bench(url, storage))
        return made[-1]

    yield start
    for one in made:
        one.rig.chip.close()
