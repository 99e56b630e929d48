"""Sheets of what was counted."""
