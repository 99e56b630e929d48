"""Wattwright: inventory and load allocation for LED tape across a season of shows."""

__version__ = "0.1.0"
