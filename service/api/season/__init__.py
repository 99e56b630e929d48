"""Doors of the season: the line, cuts, the ledger, what is out, counts and swaps."""
