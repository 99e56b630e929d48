"""What is advised keeps the limits it was asked for, and the next size does not."""
