"""Sessions, types and constraints that every stored room shares."""
