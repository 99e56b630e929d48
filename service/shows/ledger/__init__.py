"""Reels and the pieces of shows that were cut off them."""
