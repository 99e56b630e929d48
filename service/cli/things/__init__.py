"""Commands for things of every kind: listed, shown, added, changed and taken out of use."""
