"""Papers of the season: what is cut, taken, brought back, ordered and counted, each from its report."""
