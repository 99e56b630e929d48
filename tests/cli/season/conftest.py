"""The demonstration season in a database and behind a service, as the other commands are compared."""

from tests.cli.test_far import season_kept, twins

__all__ = ["season_kept", "twins"]
