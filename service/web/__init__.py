"""Pages for people: rendered here, whole without a script."""
