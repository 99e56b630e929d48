"""One unit put in the place of another: what could, what changes, done in one act and taken back."""
