"""Frothline: from the air a blower really delivers to the foam a generator makes of it."""

__version__ = "0.1.0"
