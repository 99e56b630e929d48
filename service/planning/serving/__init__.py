"""A supply or battery in the shows that have it on a day: load, limit, heat, findings, volts."""
