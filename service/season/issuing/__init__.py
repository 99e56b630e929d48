"""Gear that goes out to a production and comes back: with whom a unit is, by what its holds say."""
