"""What a writing of many rows knows, and how it stores them."""
