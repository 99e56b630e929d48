"""Limits of heat, mains, packs and fuses."""
