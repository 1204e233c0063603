"""Charts as plain data: pure functions."""
