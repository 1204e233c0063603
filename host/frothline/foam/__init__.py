"""Foam: weighed samples, what they say of capture and expansion, and the batch of concrete that the foam goes into."""
