"""Arrays, uncertainty and fits that several packages share."""
