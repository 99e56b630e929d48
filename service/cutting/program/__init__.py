"""All of it as one whole-number program, aim after aim."""
