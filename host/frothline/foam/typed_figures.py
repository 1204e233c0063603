"""Uncertainty of foam figures that are typed without one. Light to import, for the options of the command line."""

U_TYPED_DENSITY = 0.01  # relative standard uncertainty of a foam density; judgement
U_TYPED_OUTPUT = 0.025  # the same of a foam output; judgement
