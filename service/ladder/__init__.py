"""A run of tape as a ladder: volts and amps at every cut pitch, solved for many runs at once.

`electrical.tape.quick_drop` is the quick sum, for lists and for the allocator; this is the full one, for one
run in detail. Where the assumptions of both hold (loads that do not depend on the voltage), they agree.
"""
