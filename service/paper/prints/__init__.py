"""What is printed for the crew: each paper as columns and rows, the same for page, print and spreadsheet."""
