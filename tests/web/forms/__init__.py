"""What forms take, refuse and answer."""
