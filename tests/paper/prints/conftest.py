"""The demonstration season, for papers that are made of it."""

from tests.acceptance.conftest import changing_season, season

__all__ = ["changing_season", "season"]
