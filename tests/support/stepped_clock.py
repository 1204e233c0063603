"""A clock that moves only when somebody sleeps: what waits by it takes no time and does not depend on the machine."""


class SteppedClock:
    """Stands in for the module ``time`` where it is used as ``time.monotonic()`` and so on."""

    def __init__(self):
        self.now = 1000.0  # s

    def monotonic(self):
        return self.now

    def monotonic_ns(self):
        return round(self.now * 1e9)

    def time_ns(self):
        return round(self.now * 1e9)

    def sleep(self, seconds):
        self.now += seconds
