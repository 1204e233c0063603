"""Guided calibration procedures, step by step."""
