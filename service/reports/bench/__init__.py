"""The cutting bench: pieces to be cut, the plans that cut them, and each plan reel by reel."""
