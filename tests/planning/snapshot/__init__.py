"""What stored rows say to the limits."""
