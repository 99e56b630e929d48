"""Files of any kind that hold tables, opened carefully."""
