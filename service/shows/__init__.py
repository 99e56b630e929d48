"""What lights up: scenic units, elements, runs, pieces."""
