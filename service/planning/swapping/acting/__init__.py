"""A swap done in one act, put on record, and taken back."""
