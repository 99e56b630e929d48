"""What somebody in the dark types: a tag, part of a name, a place, a show, an address."""
