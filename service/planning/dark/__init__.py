"""Several things dark at once: what they have in common, and what else would be dark if that were it."""
