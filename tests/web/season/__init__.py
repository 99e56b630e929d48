"""The page of the season."""
