"""Stored rows read in one go and turned into plain, frozen data."""
