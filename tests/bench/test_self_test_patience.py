"""How long the self-test waits: by the watch for a person, by the rig's own seconds where it is simulated."""

from types import SimpleNamespace

import numpy as np
import pytest

from frothline.bench.self_test import rig_view
from frothline.bench.self_test.rig_view import LATEST, RigView
from frothline.bench.snapshot import LIVE


@pytest.fixture
def watch(monkeypatch):
    """A watch that only goes on while the self-test sleeps."""
    found = SimpleNamespace(seconds=0.0)

    def sleep(seconds):
        found.seconds += seconds

    monkeypatch.setattr(rig_view, "time", SimpleNamespace(monotonic=lambda: found.seconds, sleep=sleep))
    return found


def view(watch, *, asked=None, real=1.0):
    """A self-test on a rig that was asked for ``asked`` times real time (None: no simulation) and gives ``real`` times."""

    def window(name, seconds):
        return SimpleNamespace(time=np.array([100.0 + real * watch.seconds]))

    simulation = None if asked is None else SimpleNamespace(asked_speed=lambda: asked)
    session = SimpleNamespace(
        simulation=simulation, window=window, snapshot=lambda: SimpleNamespace(link=SimpleNamespace(state=LIVE))
    )
    return RigView(session, lambda progress: None, level=2, hands=True, patience=3.0)


@pytest.mark.parametrize(
    ("asked", "real", "seconds"),
    [(None, 1.0, 3.0), (20.0, 20.0, 3.0), (20.0, 2.0, 30.0), (20.0, 0.0, 3.0 + LATEST)],
    ids=["a real rig", "in time", "ten times too slow", "silent"],
)
def test_a_timeout_counts_the_seconds_of_the_rig(watch, asked, real, seconds):
    assert not view(watch, asked=asked, real=real).until(lambda: False, 3.0)
    assert watch.seconds == pytest.approx(seconds, abs=0.2)
