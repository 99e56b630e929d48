"""What is worked out on the spot, against published figures and figures worked by hand."""
