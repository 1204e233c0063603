"""The full-screen guide of a sweep."""
