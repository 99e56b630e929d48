"""The shelf as people ask of it: what there is of each thing, which reels are open, what comes and goes."""
