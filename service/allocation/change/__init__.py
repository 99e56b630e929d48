"""Changing a plan that is built: what stands, what has room, and the fewest rows to move."""
