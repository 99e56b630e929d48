"""Papers of what feeds what in one show, as its kept plan has it."""
