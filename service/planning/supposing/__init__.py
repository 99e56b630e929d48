"""The house and its shows thought of otherwise, in memory: nothing here reads or writes a database but
`read_world`, and everything it gives is frozen."""
