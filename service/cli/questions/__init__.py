"""Commands that ask what is dark and what moved."""
