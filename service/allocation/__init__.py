"""Which supply and channels feed which run: pure, on frozen dataclasses, no database."""
