"""Properties computed once, by threads that meet."""

import re
import threading
from dataclasses import dataclass
from pathlib import Path

from frothline.numerics.once import once

SENSORS = Path(__file__).parents[2] / "host/frothline/sensors"


@dataclass(frozen=True)
class Number:
    value: int

    @once
    def doubled(self):
        """Twice the value."""
        counted.append(self.value)
        return 2 * self.value


counted = []


def test_a_property_is_computed_once_and_only_when_it_is_asked_for():
    one = Number(21)
    assert (one.doubled, one.doubled, counted) == (42, 42, [21])
    assert Number.doubled.__doc__ == "Twice the value."


def test_two_threads_that_compute_the_same_property_of_two_objects_do_not_wait_for_each_other():
    """Each goes on only when the other computes too: with one lock for the class neither would."""
    meet, done = threading.Barrier(2, timeout=30.0), []

    class Met:
        @once
        def value(self):
            meet.wait()
            return 1

    threads = [threading.Thread(target=lambda: done.append(Met().value)) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert done == [1, 1]


def test_readings_are_computed_without_the_lock_of_the_standard_library():
    """Readings, the state of the line and flows need each other's properties, in the live thread and for a page."""
    for path in SENSORS.glob("*.py"):
        assert not re.search(r"\bcached_property\b", path.read_text("utf-8")), path.name
