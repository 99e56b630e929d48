"""What rails, leads and loads do along a run."""
