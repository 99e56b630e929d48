"""Units that go out to a production and come back, by tag: what stands in the way, the act, its undoing."""
