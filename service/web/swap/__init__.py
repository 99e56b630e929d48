"""One unit put in the place of another: what could stand in, what that changes, and taking it back."""
