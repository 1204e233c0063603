"""Random number streams: each purpose has its own generator, so that one does not affect another."""

from __future__ import annotations

from random import Random


def chance(seed: int, purpose: str) -> Random:
    """A generator with the same numbers for the same seed and purpose, on any machine."""
    return Random(f"{seed}/{purpose}")  # noqa: S311  # a simulation, not a secret
