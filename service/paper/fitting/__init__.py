"""Sheets in anybody's own form: their columns matched, their rows looked at before anything is stored."""
