"""Pure: which piece of tape comes off which reel, what is bought, what is left over, and how good that is."""
