"""A mend as it is done on pages, where the rules say how it is done over HTTP."""

import re

from service.web.frame.words import FIRST, say

_LIST = re.compile(r"See the list at /api/v1/([a-z-]+)\.")
_THING = re.compile(r": ask for /api/v1(/l/\S+)\.$")
# Names of values that no form of a page has.
_VALUES = re.compile(
    r"; to do it all the same, say why in `despite`|: in `what` of a step, or in \w+ of a change"
    r"| in (?:`\w+`|despite_limits)(?= |\.)"
)
PAGES = {
    "cut-plans": "/cutting", "productions": "/productions", "stocktakes": "/shelf/count",
    "supplies": "/shelf?kind=supply", "decoders": "/shelf?kind=decoder", "batteries": "/shelf?kind=battery",
    "tapes": "/shelf?kind=tape", "reels": "/shelf?kind=tape", "deliveries": "/shelf/receive",
    "order-lines": "/shelf/receive",
}  # fmt: skip


def here(mend: str, language: str = FIRST) -> str:
    """
    >>> here("See the list at /api/v1/cut-plans."), here("It is the tag of a unit: ask for /api/v1/l/PS-01.")
    ('Look for it in the list of cut plans.', 'It is the tag of a unit.')
    >>> here("Keep a plan that feeds it, or say in `what` why it is not fed.")
    'Keep a plan that feeds it, or say why it is not fed.'
    """
    said = _LIST.sub(lambda found: say("mend-list", {"kind": found[1].replace("-", " ")}, language), mend)
    return _VALUES.sub("", _THING.sub(".", said))


def leads_to(mend: str) -> str:
    """The page where that mend is done; blank where there is none of its own.

    >>> leads_to("See the list at /api/v1/cut-plans."), leads_to("Read it again.")
    ('/cutting', '')
    """
    thing, listed = _THING.search(mend), _LIST.search(mend)
    return thing[1] if thing else PAGES.get(listed[1], "") if listed else ""
