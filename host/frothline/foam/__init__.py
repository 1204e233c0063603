"""Foam: weighed samples, captured share and expansion, and the batch of foamed concrete."""
