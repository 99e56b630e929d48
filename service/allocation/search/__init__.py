"""Finding a plan for one part: columns, bounds and improvement. Whole numbers, one thread, no clock."""
