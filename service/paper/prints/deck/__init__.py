"""Papers for the walk before a show and for what is found on it."""
