"""The overview of a recording is stored when it is closed, and never while something is recorded."""

import shutil
from pathlib import Path
from types import SimpleNamespace

import pytest

from frothline.bench.closed_recordings import LEAST, ClosedRecordings
from frothline.readings import overview as module
from frothline.trials.notebook import season


@pytest.fixture
def path(tmp_path):
    return Path(shutil.copy(season() / "04-05-first-tube.froth", tmp_path))


def state(last=None, recording=None):
    return SimpleNamespace(recording=recording, last_recording=last)


def stored(path):
    return [file.name for file in (path.parent / module.FOLDER).glob("*.npz")]


def test_a_recording_that_is_closed_is_stored_once(path, monkeypatch):
    asked = []
    closed = ClosedRecordings(lambda: asked.append(1), start=lambda work: work(), least=0)
    closed.notice(state())
    closed.notice(state(recording="being written"))
    assert not stored(path)
    closed.notice(state(path))
    assert stored(path) == ["04-05-first-tube.npz"]
    closed.notice(state(path))
    assert len(asked) == 1
    monkeypatch.setattr(module, "outlined", None)  # what is stored is used
    assert len(module.overview(path, None, points=3)) == 3


def test_a_recording_that_begins_meanwhile_stops_it(path):
    waiting = []
    closed = ClosedRecordings(lambda: None, start=waiting.append, least=0)
    closed.notice(state(path))
    closed.notice(state(path, recording="the next one"))
    waiting.pop()()
    assert not stored(path)
    assert not waiting


def test_a_short_recording_and_one_that_is_gone_are_left_alone(path):
    closed = ClosedRecordings(lambda: None, start=lambda work: work())
    assert path.stat().st_size < LEAST
    closed.notice(state(path))
    closed.notice(state(path.with_name("gone.froth")))
    assert not stored(path)
