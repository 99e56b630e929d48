"""Reports of the season: the line, what is promised, cut, taken, returned, bought and used."""
