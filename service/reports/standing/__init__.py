"""How a show stands: its elements and what feeds them, its loads, and what is over with the way out."""
