"""Trials: runs with their builds, samples and concrete; which change helped, and what to try next."""
