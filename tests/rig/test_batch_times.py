"""The moments at which the live thread takes a batch of messages, on a stepped clock."""

from types import SimpleNamespace

import pytest

from frothline.rig import Rig, link
from frothline.rig.handshake import Chunk


class SteppedClock:
    """Stands in for the ``time`` module of the link."""

    now = 100.013

    def monotonic(self):
        return self.now

    def sleep(self, seconds):
        assert seconds > 0
        self.now += seconds


class ReaderOf:
    """Has bytes at each look; the link needs ``work`` s for them, one batch after the other."""

    url, simulation, playback, ended, skipped = "", None, None, True, 0

    def __init__(self, clock, work):
        self.live, self._clock, self._work, self.taken = self, clock, list(work), []

    def take(self, _):
        if not self._work:
            return []
        self.taken.append(self._clock.now)
        self._clock.now += self._work.pop(0)
        return [Chunk(b"", 0, 0)]

    def is_alive(self):
        return False


def moments(monkeypatch, work, pause):
    clock = SteppedClock()
    monkeypatch.setattr(link, "time", clock)
    reader = ReaderOf(clock, work)
    rig = Rig(reader, SimpleNamespace(tables={}, description=None))
    rig.pause = pause
    rig._run_live()
    return reader.taken


def test_a_batch_begins_at_each_multiple_of_the_pause(monkeypatch):
    """The messages to the pages are made a fixed time after these moments."""
    found = moments(monkeypatch, [0.004, 0.010, 0.0, 0.049], pause=0.05)
    assert found == pytest.approx([100.013, 100.05, 100.10, 100.15])
    assert moments(monkeypatch, [0.004] * 3, pause=0.25) == pytest.approx([100.013, 100.25, 100.5])


def test_a_batch_that_took_longer_than_the_pause_is_followed_at_once(monkeypatch):
    assert moments(monkeypatch, [0.06, 0.004, 0.0], pause=0.05) == pytest.approx([100.013, 100.073, 100.10])
    assert moments(monkeypatch, [0.0, 0.0], pause=0.0) == pytest.approx([100.013, 100.013])
