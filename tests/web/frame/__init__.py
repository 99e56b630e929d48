"""What every page stands in: refusals, methods, words."""
