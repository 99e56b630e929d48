"""Papers and labels: looked at, printed, taken away as a file."""
