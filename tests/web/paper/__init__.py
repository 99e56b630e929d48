"""Papers, labels and sheets that are brought in."""
