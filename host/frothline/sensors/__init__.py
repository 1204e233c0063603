"""Conversion of counts to SI with standard uncertainties: converters, calibrations, budgets, plausibility checks."""
