"""A browser window of one reader, for the tests of the pages."""

PATIENCE = 120_000  # ms that any wait may take: a busy machine is slow, and no test may fail for that


class Look:
    """One reader's browser window. Everything it asks for and everything it complains of is kept."""

    def __init__(self, browser, address, *, width=1280, height=800, **more):
        self.address = address
        self.context = browser.new_context(viewport={"width": width, "height": height}, **more)
        self.context.set_default_timeout(PATIENCE)
        self.asked, self.complaints = [], []
        self.context.on("request", lambda request: self.asked.append(request.url))
        self.page = self.context.new_page()
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.on("console", self._console)

    def _console(self, message):
        if message.type in {"error", "warning"}:
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

    def text(self, key):
        return self.page.locator(f'[data-live="{key}"]').first.text_content()

    def wait_text(self, key, part):
        """Wait until the live text ``key`` contains ``part``."""
        self.page.wait_for_function(f"document.querySelector('[data-live=\"{key}\"]').textContent.includes({part!r})")

    def wait_is(self, key, text):
        """Wait until the live text ``key`` is exactly ``text``."""
        self.page.wait_for_function(f"document.querySelector('[data-live=\"{key}\"]').textContent === {text!r}")

    def close(self):
        self.context.close()
