"""The best way to put a finding right, with what the figure becomes."""
