"""Swaps are asked of the demonstration season."""

from tests.acceptance.conftest import changing_season, season

__all__ = ["changing_season", "season"]
