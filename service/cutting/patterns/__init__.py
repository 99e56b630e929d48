"""The contents of whole reels: quick ones, the cheapest ones, and a proof."""
