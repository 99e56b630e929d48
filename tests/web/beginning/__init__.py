"""A house with nothing on record, up to its first plan."""
