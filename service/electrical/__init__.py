"""Electrical arithmetic: pure functions of SI floats, each with its equation and its source."""
