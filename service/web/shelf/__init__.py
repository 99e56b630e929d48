"""The shelf: what there is and what is free, reels in use, deliveries, counts, gear out and back."""
