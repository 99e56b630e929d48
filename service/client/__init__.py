"""A running service asked from Python: `from service.client import Wattwright`.

Typed, synchronous, over HTTP. Every list is walked to its end, what breaks on the way is asked again where
that is safe, and what the service refuses is raised with its mend. README.md has a script to start from.
"""

from service.client.refusals import Refusal
from service.client.rows import BroughtIn, DarkRow, Feed, LimitRow, LoadRow, Plan, StockRow
from service.client.sending import Manner
from service.client.wattwright import Thing, Wattwright

__all__ = [
    "BroughtIn",
    "DarkRow",
    "Feed",
    "LimitRow",
    "LoadRow",
    "Manner",
    "Plan",
    "Refusal",
    "StockRow",
    "Thing",
    "Wattwright",
]
