"""Swaps."""
