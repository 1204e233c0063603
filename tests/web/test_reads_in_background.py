"""No message to a page waits for a disk: folders and files are read in threads of their own."""

import io
import os
import threading
import time

import pytest
from fake_session import FakeSession

from frothline.generator.sheet import simulated_sheet
from frothline.recording.sidecar import write_metadata
from frothline.recording.writer import RecordingWriter
from frothline.web.feed import Feed
from frothline.web.pages import PAGES
from frothline.web.viewer import Viewer

READERS = [(os, "stat"), (os, "lstat"), (os, "scandir"), (os, "listdir"), (os, "open"), (io, "open")]


@pytest.fixture
def folder(tmp_path):
    """A folder with a sheet, a sweep of a source and a sweep through a generator."""
    (tmp_path / "builds").mkdir()
    (tmp_path / "builds" / "by-hand.toml").write_text(simulated_sheet(), "utf-8")
    for name, beside in (("source", {"kind": "sweep"}), ("wet", {"kind": "generator sweep", "through": "wet"})):
        RecordingWriter.create(tmp_path, name, source="modelled://steady").close()
        write_metadata(tmp_path / f"{name}.toml", {"recording": name, **beside})
    return tmp_path


@pytest.fixture
def read(folder, monkeypatch):
    """Threads in which something below the folder was read, with its path."""
    found = []

    def noting(function):
        def call(path, *arguments, **named):
            if isinstance(path, (str, os.PathLike)) and os.fspath(path).startswith(str(folder)):
                found.append((threading.get_ident(), os.fspath(path)))
            return function(path, *arguments, **named)

        return call

    for module, name in READERS:
        monkeypatch.setattr(module, name, noting(getattr(module, name)))
    return found


def test_no_message_reads_the_folder_in_the_thread_that_sends_it(folder, read):
    feed = Feed(FakeSession(folder))
    read.clear()  # what a session reads at its start
    end = time.monotonic() + 120.0
    while time.monotonic() < end:
        for page in PAGES:
            feed.update(Viewer(page=page), 0)
        state = feed.desk.look()
        if state.files and len(state.recorded) == 2 and feed.library.places["own"].look().ready:
            break
        time.sleep(0.02)
    assert state.files == ("by-hand.toml",)
    assert state.file == "by-hand.toml"
    mine = threading.get_ident()
    assert [path for thread, path in read if thread != mine], "nothing was read at all"
    assert not [path for thread, path in read if thread == mine]


def test_a_sweep_that_ends_lists_its_recording_without_reading_in_the_thread_that_sends(folder, read):
    session = FakeSession(folder)
    feed = Feed(session)
    end = time.monotonic() + 120.0
    while time.monotonic() < end and not feed.desk.look().files:
        feed.update(Viewer(page="generator"), 0)
        time.sleep(0.02)
    form = feed.desk.look().form
    read.clear()
    session.through = {"wet": tuple(session._points) or tuple(range(40))}
    feed.clock = time.monotonic
    time.sleep(0.05)  # the next snapshot is a new one
    feed._taken = -1e9
    feed.snapshot()
    while time.monotonic() < end and not [path for _, path in read]:
        time.sleep(0.02)
    assert threading.get_ident() not in {thread for thread, _ in read}
    assert read
    assert feed.desk.look().form > form
