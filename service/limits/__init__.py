"""The one statement of the rules: each limit is one pure function on plain data."""
