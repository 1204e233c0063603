"""Counts to SI, each figure with its standard uncertainty: converters, calibrations, budgets, and what looks wrong."""
