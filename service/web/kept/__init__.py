"""What a phone keeps for where there is no network."""
