"""Sweeps: the guides of a source and of a generator, and what recorded sweeps give."""
