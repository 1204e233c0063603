"""The generator page: build sheet, operating point and what-if."""
