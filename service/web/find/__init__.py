"""The three-second screen: what has gone dark, what feeds it, what else dies."""
