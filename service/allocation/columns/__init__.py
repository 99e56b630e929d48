"""What one supply output carries, as columns of a linear program: prices, bounds, branching, dives."""
