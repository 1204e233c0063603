"""The prompt: the same capabilities as the pages."""
