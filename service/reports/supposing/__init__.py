"""What if: changes made in a transaction that is always undone, and what the findings would then be."""
