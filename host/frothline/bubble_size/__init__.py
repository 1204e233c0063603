"""Bubbles from a photo: a printed card gives scale and tilt, the films give the sizes."""
