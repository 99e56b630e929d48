"""A kept plan thought of otherwise, in memory: nothing here reads or writes a database."""
