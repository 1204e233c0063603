"""The page of the generator."""
