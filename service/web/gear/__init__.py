"""A supply, a battery or a decoder: what it carries, what hangs on it, how warm it stands."""
