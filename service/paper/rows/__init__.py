"""Cells become typed values by the columns that a sheet declares."""
