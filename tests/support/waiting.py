"""Waiting for a condition, for as long as a busy machine may need."""

import time

PATIENCE = 120.0  # s; no test may fail because the machine has other work to do


def until(condition, what="it", *, patience=PATIENCE):
    """Wait until ``condition()`` holds and give what it returned; fails the test after ``patience`` s."""
    end = time.monotonic() + patience
    while time.monotonic() < end:
        if found := condition():
            return found
        time.sleep(0.01)
    raise AssertionError(f"{what} did not come about within {patience:g} s")


def frames_pass(session, count):
    """Wait until the session has read ``count`` further frames; 100 are one second of a board at its usual rate."""
    goal = session.snapshot().losses.frames + count
    until(lambda: session.snapshot().losses.frames >= goal, f"{count} further frames")


def simulated_time_passes(session, seconds):
    """Wait until the simulated line of the session has lived ``seconds`` further seconds of its own time."""
    goal = session.simulation.truth()["time"] + seconds
    until(lambda: session.simulation.truth()["time"] >= goal, f"{seconds:g} s of simulated time")
