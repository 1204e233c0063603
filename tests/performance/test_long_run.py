"""Memory of a long session, over some simulated hours; 72 are in the measurement."""

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

import measure_long_run as long


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="needs /proc")
@pytest.mark.parametrize(
    ("hours", "readings"), [((1, 3), 5.0), pytest.param((4, 24), 60.0, marks=pytest.mark.exhaustive)]
)
def test_a_session_does_not_grow_while_viewers_come_and_go(tmp_path, hours, readings):
    (_, _, before, _, _), (_, _, after, messages, frames) = long.long_session(tmp_path, hours, readings=readings)
    stretches = hours[-1] * 3600 / long.EVERY
    assert frames >= (stretches - 1) * readings * long.RATE
    assert messages == 2 * stretches
    assert after < before + 2000  # objects
