"""Kinds of record that keep the house going: fittings, people, faults, tests, notes and work."""
