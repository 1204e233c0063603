"""Steady points, air source curves, generator resistance and their operating point."""
