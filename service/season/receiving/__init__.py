"""What was ordered comes: deliveries become reels and units."""
