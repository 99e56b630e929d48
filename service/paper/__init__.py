"""Sheets that come in from a folder or a workbook."""
