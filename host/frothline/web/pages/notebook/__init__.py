"""The page of the trials."""
