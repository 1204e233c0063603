"""The full-screen guide of a sweep, of a source or a generator."""
