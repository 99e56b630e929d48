"""What to do about volts that are lost: the longest run, the least copper, where to feed next.

Everything here is found with the quick drop of `service.electrical.tape` and then checked with it, so that
an answer never breaks the limit it was asked for: cases.py asks, longest.py and copper.py search one figure,
options.py puts all of them side by side.
"""
