"""A browser window of one reader, for the tests of the pages."""

import re
from collections import defaultdict

CHROMIUM = "/usr/bin/chromium"  # not chromium-headless-shell, where a tap raises no pointer over a chart
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
LEFT_EARLY = "WebSocket is closed before the connection is established"  # the reader left: no fault of the page
PATIENCE = 120_000  # ms that any wait may take: a busy machine is slow, and no test may fail for that
WHOLE_SWEEP = (
    600_000  # ms that a simulated sweep may take where the machine is too busy to simulate it as fast as asked
)


OWN = re.compile(r"(https?|ws)://127\.0\.0\.1[:/]|data:|blob:|about:")


class SharedBrowser:
    """One Chromium for all tests of a process. It is opened by the first test that needs it.

    While it is open its event loop stands in the way of every other loop, so it has to be closed before the next test
    that does not use it.
    """

    def __init__(self):
        self._playwright = self._browser = self._tabs = None

    def open(self):
        if self._browser is None:
            from playwright.sync_api import sync_playwright

            self._playwright = sync_playwright().start()
            self._browser = self._playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
            self._tabs = Tabs(self._browser)
        return self._browser

    @property
    def tabs(self):
        self.open()
        return self._tabs

    def close(self):
        if self._browser is not None:
            self._browser.close()
            self._playwright.stop()
            self._playwright = self._browser = self._tabs = None


class Tabs:
    """Browser tabs that the windows of several tests use, one after the other.

    In a new tab the scripts of a page cost 4 s of processor time until the first figures are drawn, in a used one 1 s.
    Each tab has a context of its own: two windows at the same time share neither storage nor connection.
    """

    def __init__(self, browser):
        self._browser = browser
        self._free = defaultdict(list)

    def take(self, address, **fixed):
        """A tab with these options, which cannot change while its context exists, and with nothing stored for ``address``."""
        free = self._free[tuple(sorted(fixed.items()))]
        if not free:
            return self._browser.new_context(**fixed).new_page()
        page = free.pop()
        page.goto(address + "alive")  # storage can only be cleared from a page of the same address
        page.evaluate("localStorage.clear(); sessionStorage.clear()")
        return page

    def give_back(self, page, **fixed):
        page.goto("about:blank")
        page.mouse.move(0, 0)
        self._free[tuple(sorted(fixed.items()))].append(page)


class Look:
    """One reader's browser window. Everything it asks for and everything it complains of is kept.

    With ``tabs`` the window is one of these and is given back when it closes; otherwise it is a new one of ``browser``.
    """

    def __init__(self, browser, address, *, width=1280, height=800, color_scheme="light", tabs=None, **fixed):
        self.address = address
        self._tabs, self._fixed, self._closed = tabs, fixed, False
        self.page = browser.new_context(**fixed).new_page() if tabs is None else tabs.take(address, **fixed)
        self.context = self.page.context
        self.context.set_default_timeout(PATIENCE)
        self.page.set_viewport_size({"width": width, "height": height})
        self.page.emulate_media(color_scheme=color_scheme)
        self.asked, self.complaints = [], []
        self.context.on("request", self._request)
        self.page.on("pageerror", self._error)
        self.page.on("console", self._console)

    def _request(self, request):
        self.asked.append(request.url)

    @property
    def foreign(self):
        """What was asked of any other host than the one that serves the page."""
        return [url for url in self.asked if not OWN.match(url)]

    def _error(self, error):
        self.complaints.append(str(error))

    def _console(self, message):
        if message.type in {"error", "warning"} and LEFT_EARLY not in message.text:
            self.complaints.append(f"{message.type}: {message.text}")

    def open(self, path=""):
        self.page.goto(self.address + path)
        self.drawn(1)
        return self

    @property
    def ticks(self):
        return self.page.evaluate("frothline.drawn.ticks")

    def drawn(self, more):
        """Wait until the page has drawn ``more`` further messages."""
        self.page.wait_for_function("window.frothline && frothline.drawn")
        goal = self.ticks + more
        self.page.wait_for_function(f"frothline.drawn.ticks >= {goal}")

    def charted(self, key):
        """Wait until the chart ``key`` has been drawn; its library is loaded after the first message."""
        self.page.wait_for_function(f"document.querySelector('#{key} .js-plotly-plot .xtick')")

    def text(self, key):
        return self.page.locator(f'[data-live="{key}"]').first.text_content()

    def wait_text(self, key, part, *, patience=PATIENCE):
        """Wait until the live text ``key`` contains ``part``, at most ``patience`` ms."""
        self.page.wait_for_function(
            f"document.querySelector('[data-live=\"{key}\"]').textContent.includes({part!r})", timeout=patience
        )

    def wait_is(self, key, text):
        """Wait until the live text ``key`` is exactly ``text``."""
        self.page.wait_for_function(f"document.querySelector('[data-live=\"{key}\"]').textContent === {text!r}")

    def close(self):
        """Close the window, or give its tab back without anything of this test."""
        if self._closed:
            return
        self._closed = True
        if self._tabs is None:
            self.context.close()
            return
        self.context.remove_listener("request", self._request)
        self.page.remove_listener("pageerror", self._error)
        self.page.remove_listener("console", self._console)
        self._tabs.give_back(self.page, **self._fixed)
