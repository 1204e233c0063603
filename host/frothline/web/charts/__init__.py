"""Pure functions that build charts as plain data."""
