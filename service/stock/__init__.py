"""What the department owns: models, units, reels, wire, places, outlets."""
