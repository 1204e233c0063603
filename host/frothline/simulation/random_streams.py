"""Chance, by purpose: each use of random numbers has a generator of its own, so that one does not disturb another."""

from __future__ import annotations

from random import Random


def chance(seed: int, purpose: str) -> Random:
    """A generator that gives the same numbers for the same seed and purpose, on any machine."""
    return Random(f"{seed}/{purpose}")  # noqa: S311  # a simulation, not a secret
