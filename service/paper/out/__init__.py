"""Everything as plain sheets: written out to be edited and brought in again, or empty to be filled in."""
