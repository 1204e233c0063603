"""Guided calibrations, step by step."""
