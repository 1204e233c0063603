"""A served stand-in bench and a browser, for the tests of the pages."""

import pytest
from fake_session import FakeSession
from reader_window import Look

CHROMIUM = "/usr/bin/chromium"
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@pytest.fixture
def bench(tmp_path):
    return FakeSession(tmp_path)


@pytest.fixture
def address(bench):
    from frothline.web import serving

    with serving(bench) as where:
        yield where


@pytest.fixture(scope="module")  # while it is open its event loop stands in the way of every other
def chromium():
    sync_api = pytest.importorskip("playwright.sync_api")
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
        yield browser
        browser.close()


@pytest.fixture
def look(chromium, address):
    """Opens browser windows; none of them may have complained when the test ends."""
    opened = []

    def opener(**more):
        opened.append(Look(chromium, address, **more))
        return opened[-1]

    yield opener
    complaints = [complaint for window in opened for complaint in window.complaints]
    for window in opened:
        window.close()
    assert not complaints
