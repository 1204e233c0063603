"""The page of the air source."""
