"""A run: foam production with its balance of foam and solution, and the watch for faults."""
