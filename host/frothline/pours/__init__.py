"""The record of pours: what went into the mixer, and the concrete that came out of it."""
