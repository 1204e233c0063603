"""The source page: live readings, sweep and curve of the air source."""
