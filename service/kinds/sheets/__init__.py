"""Every sheet that may be brought in: its columns, its checks and how its rows are stored."""
