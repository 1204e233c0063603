"""How all tests run: in several processes, the long files first, and no example against the clock."""

import gc
import os
from collections import Counter

import pytest
from hypothesis import HealthCheck, settings
from late_server import make_late
from reader_window import SharedBrowser

# On a busy machine an example may take as long as it likes.
settings.register_profile("everyday", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("everyday")

os.environ["FROTHLINE_PREFERENCES"] = os.devnull + ".toml"  # there is none: nobody's preferences change a test

BROWSER = SharedBrowser()


def pytest_addoption(parser):
    parser.addoption("--late-server", action="store_true", help="messages to the pages come late; finds hasty tests")


def pytest_configure(config):
    if config.getoption("--late-server"):
        make_late()


@pytest.fixture
def chromium():
    """The browser of this process; it is closed before the next test that does not use it."""
    return BROWSER.open()


@pytest.fixture
def tabs(chromium):
    return BROWSER.tabs


@pytest.hookimpl(trylast=True)  # after the fixtures of the test, which close their windows
def pytest_runtest_teardown(nextitem):
    if nextitem is None or "chromium" not in getattr(nextitem, "fixturenames", ()):
        BROWSER.close()


def pytest_collection_modifyitems(items):
    """Files with the most slow tests come first, so that no process works on one of them while the others have ended.

    A file runs in one process (``--dist loadscope``): what its tests share is made once.
    """
    slow = Counter(
        item.path for item in items if any(item.get_closest_marker(name) is not None for name in ("slow", "browser"))
    )
    items.sort(key=lambda item: -slow[item.path])


def pytest_collection_finish():
    """What was collected stays until the end: the garbage collector need not look at it again and again."""
    gc.collect()
    gc.freeze()
