"""The demonstration season: Harrow Quay Playhouse, all invented, as it stands on 2026-11-25.

Five shows share one store. The sheets beside this file are in the form that anybody's own sheets
may have; what is wrong in them (an overloaded supply, a reel entered twice, addresses that
overlap) is there on purpose, to be found.
"""

from datetime import date
from pathlib import Path

AS_OF = date(2026, 11, 25)


def folder() -> Path:
    """Where the sheets are, in the source and in an installed package alike."""
    return Path(__file__).resolve().parent
