"""Trials: runs with builds, samples and concrete, effects of changes, and the next trial."""
