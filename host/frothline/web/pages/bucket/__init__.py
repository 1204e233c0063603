"""The page of the foam run and the batch."""
