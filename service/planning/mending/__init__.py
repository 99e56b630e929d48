"""Mends done: what a limit offers, carried out by the rules of the things it changes."""
