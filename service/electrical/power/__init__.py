"""Power: what the wall, the box and the battery allow. Pure arithmetic, each with its equation and source."""
