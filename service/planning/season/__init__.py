"""Wanted against there, for every model, tape, lot and reel and all shows at once; and what to buy."""
