"""The cutting bench: plans asked for, kept, and done cut by cut."""
