"""Handlers by which pyserial finds the simulated rigs: ``modelled://`` and ``emulated://``."""
