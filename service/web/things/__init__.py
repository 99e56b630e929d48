"""Anything with a tag: where its label leads, and what is on record of it."""
