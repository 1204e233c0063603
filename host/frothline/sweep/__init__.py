"""Sweeps: guides for a source and a generator, and evaluation of recorded sweeps."""
