"""The demonstration season, for sheets that are brought into it."""

from tests.acceptance.conftest import changing_season, season

__all__ = ["changing_season", "season"]
