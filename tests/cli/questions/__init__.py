"""Commands that ask: worked out on the spot, or read from the house."""
