"""Stocktakes: a place counted, and what differs from the book accepted or looked for."""
