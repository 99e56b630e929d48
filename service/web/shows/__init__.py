"""Shows: what is fed from where, what is over and one move that mends it, the feeds worked out and kept."""
