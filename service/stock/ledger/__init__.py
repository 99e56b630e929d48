"""The ledger of every reel: what is taken off, brought back, joined and counted. Nothing here commits."""
