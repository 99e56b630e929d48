"""What a list is, what it may be asked, in which order it stands, and how it stood on a day gone by."""
