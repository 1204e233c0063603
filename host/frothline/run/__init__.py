"""A run: foam is made, watched and balanced."""
