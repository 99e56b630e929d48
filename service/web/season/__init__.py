"""Is there enough, when not, who holds it, and what would put it right."""
