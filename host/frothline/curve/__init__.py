"""From samples to steady points, to an air source's curve, a generator's resistance, and where the two meet."""
