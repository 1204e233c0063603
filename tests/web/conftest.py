"""A served stand-in bench and a browser, for the tests of the pages."""

import os
import socket

import pytest
from fake_session import FakeSession
from reader_window import Look


@pytest.fixture
def bench(tmp_path):
    return FakeSession(tmp_path)


@pytest.fixture(scope="session")
def port():
    """One port for every server of this process: a browser keeps what it has loaded by address.

    It is below 32768, where Linux begins to give ports to whoever wants any, so that nobody takes it between two servers.
    """
    first = 20_000 + os.getpid() % 10_000
    for number in range(first, first + 100):
        try:
            socket.create_server(("127.0.0.1", number)).close()
        except OSError:
            continue
        return number
    return 0


@pytest.fixture
def address(bench, port):
    from frothline.web import serving

    with serving(bench, port=port) as where:
        yield where


@pytest.fixture
def look(chromium, address, tabs):
    """Opens browser windows. When the test ends none of them may have complained, or asked another host for anything.

    ``fresh`` ones were never used before.
    """
    opened = []

    def opener(*, fresh=False, **more):
        opened.append(Look(chromium, address, tabs=None if fresh else tabs, **more))
        return opened[-1]

    yield opener
    complaints = [complaint for window in opened for complaint in window.complaints]
    foreign = [url for window in opened for url in window.foreign]
    for window in opened:
        window.close()
    assert not complaints
    assert not foreign
