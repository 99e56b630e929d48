"""The limits themselves, one file a subject; each is one pure function that returns a finding or None."""
