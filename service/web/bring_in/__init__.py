"""Bring in a sheet: choose it, see how it is read, store what is ready, take it back."""
