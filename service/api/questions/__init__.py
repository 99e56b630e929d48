"""Questions about what is fed: from what, what is dark and why, and what moved."""
