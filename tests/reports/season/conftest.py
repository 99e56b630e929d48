"""The demonstration season, brought in once on each database, for reports that only read it."""

from tests.acceptance.conftest import changing_season, season

__all__ = ["changing_season", "season"]
