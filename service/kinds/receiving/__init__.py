"""Kinds of things that come into the house, and joints inside reels."""
