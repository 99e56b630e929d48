"""Where a thing stands on its path: the steps it takes, what they need and what follows from them."""
