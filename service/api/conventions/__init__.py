"""How every endpoint speaks HTTP: versions, repeats, pages, formats, who asks, and who may knock."""
